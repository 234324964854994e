// The arrow keys go along a row of controls and round its ends.

const MOVES = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };

// `roving`: the Tab key comes to one of the row only, the one that was last gone to.
export function alongRow(event, row, roving = false) {
  const move = MOVES[event.key];
  if (!move) return;
  event.preventDefault();
  const next = row[(row.indexOf(event.currentTarget) + move + row.length) % row.length];
  if (roving) for (const each of row) each.setAttribute("tabindex", each === next ? "0" : "-1");
  next.focus();
  next.scrollIntoView?.({ block: "nearest", inline: "nearest" });
}
