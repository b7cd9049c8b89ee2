// What was heard: "/" goes to the box from anywhere, Escape leaves it; names known to the plot
// complete the word that is being typed. One listener a page, however often this is drawn.
(() => {
  const names = __NAMES__;
  const box = () => document.querySelector(".st-key-heard input[type='text']");
  const editable = (at) =>
    at && (at.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName));
  window.musterplotNames = names;
  if (window.musterplotHeard) return;
  window.musterplotHeard = true;
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
