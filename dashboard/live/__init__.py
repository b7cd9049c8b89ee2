"""What changed is made once for all who see the same, and swapped into their open pages.

A page's script runs when its reader acts. What changes meanwhile is offered over a socket of our
own, asked one question at a time, and put in place by one component (`changes.js`): no script
runs, and no focus, scroll or node is lost. Each message carries the moment it was made for and
goes to those alone who may see it: whose token, signed at their own door, says so.
"""
