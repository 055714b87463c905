// Measures the screen that stands. Sizes are CSS px; a px and a half is left for rounding and for 2 px borders.
const SLACK = 1.5;
const TARGET = 64, SEGMENT = 90, CELL = { width: 66, height: 92 }, GAP = 12, TYPE = 13;
// What opens something and records nothing may touch its like: the parts on the line, the rows of a table.
const GROUPS = '.segments, .grades, .drawing ol, .table';

const nameOf = (node) =>
  (node.getAttribute('aria-label') ?? node.textContent ?? '').trim().replace(/\s+/g, ' ').slice(0, 60) || node.tagName;

/** What is left of a box inside every ancestor that hides or scrolls what is beyond it; null where nothing is. */
function visible(node, box) {
  let { left, right, top, bottom } = box;
  for (let up = node; up !== null; up = up.parentElement) {
    const style = getComputedStyle(up);
    if (up === node && up.matches('button, a, label')) continue;
    if (style.overflowX === 'visible' && style.overflowY === 'visible') continue;
    const edge = up.getBoundingClientRect();
    left = Math.max(left, edge.left); right = Math.min(right, edge.right);
    top = Math.max(top, edge.top); bottom = Math.min(bottom, edge.bottom);
  }
  return right - left <= SLACK || bottom - top <= SLACK ? null : { left, right, top, bottom };
}

function controls() {
  const all = [...document.querySelectorAll('button, [role=radio], [role=slider], [role=button], a[href], input, select, textarea')];
  return all.filter((node) => node.getClientRects().length > 0 && !node.matches('[data-wedge], .side') && node.closest('[inert]') === null).map((node) => {
    const whole = node.getBoundingClientRect();
    const group = node.closest(GROUPS);
    return {
      node, name: nameOf(node), whole, box: visible(node, whole), cell: node.matches('.cell'),
      group, segment: node.closest('.segments, .grades') !== null,
    };
  });
}

function targets(found) {
  const told = [];
  for (const { name, whole, cell, segment } of found) {
    const least = cell ? CELL : { width: segment ? SEGMENT : TARGET, height: TARGET };
    if (whole.width < least.width - 0.5 || whole.height < least.height - 0.5) {
      told.push(`too small: ${name}: ${whole.width.toFixed(0)} x ${whole.height.toFixed(0)}`);
    }
  }
  // Of what is scrolled half away the finger scrolls the rest into view first.
  const shown = found.filter(({ box, whole }) => box !== null && box.bottom - box.top > whole.height / 2);
  shown.forEach((a, index) => {
    for (const b of shown.slice(index + 1)) {
      if ((a.group !== null && a.group === b.group) || a.node.contains(b.node) || b.node.contains(a.node)) continue;
      const apart = Math.max(
        a.box.left - b.box.right, b.box.left - a.box.right, a.box.top - b.box.bottom, b.box.top - a.box.bottom,
      );
      // Parts on the line touch each other and what stands beside them: they navigate, and record nothing.
      if (apart < (a.cell || b.cell ? -0.5 : GAP - 0.5)) told.push(`too near: ${a.name} | ${b.name}: ${apart.toFixed(1)}`);
    }
  });
  return told;
}

/** Every run of text that can be seen, line by line, with the element it stands in. */
function texts() {
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let text = walk.nextNode(); text !== null; text = walk.nextNode()) {
    const node = text.parentElement;
    if (text.data.trim() === '' || node === null || node.closest('.unseen, script, style, [inert], svg [aria-hidden=true], noscript') !== null) continue;
    const style = getComputedStyle(node);
    if (clippedAway(node) || !node.checkVisibility()) continue; // what lies in a closed <details> has a box, and is not seen
    if (style.visibility === 'hidden' || style.display === 'none' || style.opacity === '0') continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1) found.push({ node, box, style, said: text.data.trim().slice(0, 50) });
  }
  return found;
}

/** Words for readers only, in whatever class. */
function clippedAway(node) {
  for (let up = node; up !== null; up = up.parentElement) if (getComputedStyle(up).clipPath === 'inset(50%)') return true;
  return false;
}

function hidesWhatIsBeyond(style) {
  return { x: ['hidden', 'clip'].includes(style.overflowX), y: ['hidden', 'clip'].includes(style.overflowY) };
}

function cut(found) {
  const told = new Set();
  for (const { node, box, said } of found) {
    for (let up = node; up !== null && up !== document.body; up = up.parentElement) {
      const hides = hidesWhatIsBeyond(getComputedStyle(up));
      if (!hides.x && !hides.y) continue;
      const edge = up.getBoundingClientRect();
      if (hides.x && (box.left < edge.left - SLACK || box.right > edge.right + SLACK)) told.add(`cut: ${said}`);
      if (hides.y && (box.top < edge.top - 4 || box.bottom > edge.bottom + 4)) told.add(`cut: ${said}`);
    }
  }
  // A text that runs over the edge of the control it is the name of.
  for (const node of document.querySelectorAll('button, .btn, label, .row, .notice, dd, td')) {
    if (node.getClientRects().length === 0) continue;
    const edge = node.getBoundingClientRect();
    for (const one of found) {
      if (!node.contains(one.node)) continue;
      if (one.box.left < edge.left - SLACK || one.box.right > edge.right + SLACK || one.box.bottom > edge.bottom + 4) {
        if (!node.matches('.cell')) told.add(`runs over the edge of its control: ${one.said}`);
      }
    }
  }
  return [...told];
}

function small(found) {
  const told = new Set();
  for (const { style, said, node } of found) {
    const px = parseFloat(style.fontSize);
    const scale = node.closest('svg') === null ? 1 : scaleOf(node.closest('svg'));
    if (px * scale < TYPE - 0.01) told.add(`small type: ${said}: ${(px * scale).toFixed(1)}`);
  }
  return [...told];
}

/** A word that goes on in the next line without a hyphen: two boxes of one word at different heights. */
function broken(found) {
  const told = new Set();
  const range = document.createRange();
  for (const { node } of found) {
    if (node.closest('.mono, .hash, [data-code], svg, td') !== null) continue;
    for (const text of node.childNodes) {
      if (text.nodeType !== Node.TEXT_NODE) continue;
      for (const word of text.data.matchAll(/[A-Za-z]{6,}/g)) {
        // The hyphen a soft one shows as, at the end of the line before, is counted to the letter after it.
        range.setStart(text, word.index + (text.data[word.index - 1] === '\u00ad' ? 1 : 0));
        range.setEnd(text, word.index + word[0].length);
        const tops = new Set([...range.getClientRects()].filter((box) => box.width > 1).map((box) => Math.round(box.top)));
        if (tops.size > 1) told.add(`broken in the middle of a word: ${word[0]}`);
      }
    }
  }
  return [...told];
}

function scaleOf(svg) {
  const wide = svg.viewBox.baseVal?.width ?? 0;
  return wide > 0 ? svg.getBoundingClientRect().width / wide : 1;
}

/** Two texts that lie over one another, where both can be seen. */
function overlaid(found) {
  const seen = found.filter(({ node, box }) => {
    if (visible(node, box) === null) return false;
    const top = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
    return top !== null && (node.contains(top) || top.contains(node));
  });
  const told = new Set();
  seen.forEach((a, index) => {
    for (const b of seen.slice(index + 1)) {
      if (a.node === b.node) continue;
      const wide = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
      const high = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
      if (wide > 2 && high > 6) told.add(`over one another: ${a.said} | ${b.said}`);
    }
  });
  return [...told];
}

function whole() {
  const told = [];
  const page = document.documentElement;
  if (page.scrollWidth > window.innerWidth) told.push(`wider than the screen: ${page.scrollWidth} > ${window.innerWidth}`);
  for (const node of document.querySelectorAll('body *')) {
    const style = getComputedStyle(node);
    if (!['auto', 'scroll'].includes(style.overflowX) || node.matches('[data-wide]')) continue;
    if (node.scrollWidth > node.clientWidth + 1) told.push(`scrolls sideways: ${node.className || node.tagName}`);
  }
  const heads = [...document.querySelectorAll('h1')].filter((node) => node.getClientRects().length > 0 && node.closest('[inert]') === null).length;
  if (heads !== 1) told.push(`${heads} headings of the first rank`);
  const filled = [...document.querySelectorAll('.btn.best, .btn.main, .btn.filled')]
    .filter((node) => node.getClientRects().length > 0 && !node.matches('.wait') && node.closest('[inert]') === null);
  if (filled.length > 1) told.push(`${filled.length} filled buttons: ${filled.map(nameOf).join(' | ')}`);
  for (const hand of document.querySelectorAll('.hand')) {
    if (hand.matches('.list') || hand.closest('.zones.whole') !== null) continue; // there the rows scroll, as meant
    if (window.innerWidth > 600 && hand.scrollHeight > hand.clientHeight + 1) told.push(`the hand scrolls: ${hand.scrollHeight} > ${hand.clientHeight}`);
  }
  const holes = [...new Set((document.body.innerText.match(/\{\w+\}|\b[a-z]\w+(?:\.(?!(?:csv|xlsx|jsonl)\b)[a-z]\w+)+\b|undefined|NaN|\[object/g) ?? []))];
  if (holes.length > 0) told.push(`words that are not there: ${holes.join(', ')}`);
  return told;
}

/** Whoever works here stands by name in the corner of the bar, however narrow it is. */
function named(found) {
  return [...document.querySelectorAll('.people > button.corner')]
    .filter((corner) => corner.getClientRects().length > 0 && corner.closest('[inert]') === null && !found.some(({ node }) => corner.contains(node) && node.closest('.initials') === null))
    .map(() => 'the name of who works here is not shown');
}

function look() {
  const runs = texts();
  return [...named(runs), ...whole(), ...targets(controls()), ...cut(runs), ...small(runs), ...broken(runs), ...overlaid(runs)];
}
