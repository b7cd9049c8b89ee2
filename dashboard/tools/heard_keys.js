// What was heard: "/" goes to the box from anywhere, Escape leaves it; names known to the plot
// complete the word that is being typed. An Enter that a busy page did not take, or that fell beside
// the box because the page was drawn anew, is given once more: nobody may think a line recorded that
// is not. One listener a page, however often this is drawn.
(() => {
  const names = __NAMES__;
  const box = () => document.querySelector(".st-key-heard input[type='text']");
  const editable = (at) =>
    at && (at.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName));
  window.musterplotNames = names;
  if (window.musterplotHeard) return;
  window.musterplotHeard = true;
  const TAKEN_MS = 1500, LOOKS = 40, NEAR_MS = 15000;
  let inBox = -Infinity;
  const press = () =>
    document.querySelector('.st-key-heard [data-testid="stFormSubmitButton"] button')?.click();
  // what is read back and asked; the records of the line before go while one looks
  const said = () => [...document.querySelectorAll(
    ".st-key-heard_said :is(.mp-heard:not(.mp-done), .mp-fault)")].map((one) => one.textContent).join();
  const rests = () => document.querySelector('[data-test-script-state="notRunning"]');
  // what stood there when Enter fell stands there still, and nothing is being worked out
  const look = (value, before, left) => setTimeout(() => {
    const input = box();
    if (!input || input.value !== value || said() !== before) return;
    if (rests()) press();
    else if (left) look(value, before, left - 1);
  }, TAKEN_MS);
  document.addEventListener("focusin", (event) => {
    if (event.target === box()) inBox = performance.now();
  });
  window.addEventListener("keydown", (event) => {
    const input = box();
    if (event.key !== "Enter" || event.isComposing || !input || !input.value) return;
    const beside = document.activeElement === document.body;
    if (document.activeElement === input) inBox = performance.now();
    else if (!beside || performance.now() - inBox > NEAR_MS) return;
    if (beside) {
      input.focus();
      press();
    }
    look(input.value, said(), LOOKS);
  }, true);
  document.addEventListener("keydown", (event) => {
    const input = box();
    if (!input) return;
    if (event.key === "/" && !event.ctrlKey && !event.metaKey && !event.altKey) {
      if (document.activeElement === input || editable(document.activeElement)) return;
      event.preventDefault();
      input.focus();
      input.select();
    } else if (event.key === "Escape" && document.activeElement === input) {
      input.blur();
    }
  });
  document.addEventListener("input", (event) => {
    const input = box();
    if (!input || event.target !== input) return;
    let list = document.getElementById("heard-names");
    if (!list) {
      list = document.createElement("datalist");
      list.id = "heard-names";
      document.body.appendChild(list);
    }
    input.setAttribute("list", "heard-names");
    const said = input.value;
    const word = said.split(/\s/).pop();
    const before = said.slice(0, said.length - word.length);
    list.replaceChildren();
    if (word.length < 2) return;
    window.musterplotNames
      .filter((name) => name.toLowerCase().startsWith(word.toLowerCase()))
      .slice(0, 12)
      .forEach((name) => {
        const option = document.createElement("option");
        option.value = before + name;
        list.appendChild(option);
      });
  }, true);
})();
