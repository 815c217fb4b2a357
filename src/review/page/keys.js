// Every key in one table: what happens, and what the help says.
import {el} from './words.js';

const groups = [
  ['Walk', [
    ['n', 'next', 'Next marking', ['j', 'ArrowDown']], ['p', 'previous', 'Previous marking', ['k', 'ArrowUp']],
    ['u', 'nextOpen', 'Next one still to check'],
    ['c', 'confirm', 'Confirm and go on', ['Enter']], ['x', 'falseAlarm', 'False alarm: no marking here (again: it is one)'],
    ['f', 'filter', 'Choose what is shown'], ['r', 'rank', 'Choose what comes first'], ['s', 'sitePlan', 'Site plan'],
  ]],
  ['Decide', [
    ['1', 'leave', 'Leave it'], ['2', 'repaint', 'Repaint'], ['3', 'grind', 'Grind and repaint'], ['0', 'byPolicy', 'Action as the policy says'],
    ['t', 'kind', 'Change the kind'], ['o', 'colour', 'Change the colour'], ['a', 'adhesion', 'Tape-pull class'],
    ['q', 'coats', 'Number of coats'], ['b', 'below', 'Known paint below'], ['w', 'note', 'Write a note'], ['m', 'same', 'The same as another marking'],
  ]],
  ['Photo', [
    ['+', 'zoomIn', 'Zoom in', ['=']], ['-', 'zoomOut', 'Zoom out'], ['g', 'zoomMarking', 'Go to the marking'], ['h', 'zoomPhoto', 'Whole photo'],
    ['Shift+Arrows', null, 'Move the photo'],
  ]],
  ['Outline', [
    ['e', 'edit', 'Edit the outline; again: finish'], ['[', 'cornerBack', 'Previous corner', [',']], [']', 'cornerOn', 'Next corner', ['.']],
    ['Arrows', null, 'Move the corner by a pixel; with Shift by ten'], ['i', 'cornerAdd', 'Add a corner after this one', ['Insert']],
    ['Delete', 'cornerRemove', 'Remove the corner', ['Backspace']], ['y', 'ringAdd', 'Add a ring'], ['Y', 'ringRemove', 'Remove the ring'],
    ['d', 'draw', 'Draw a missed marking'], ['l', 'template', 'Lay a template'],
    ['Arrows, Space', null, 'While drawing: move the cross, put a point'], ['Enter', null, 'While drawing: close the ring'],
  ]],
  ['Review', [
    ['z', 'undo', 'Undo', ['Ctrl+z']], ['Z', 'redo', 'Redo', ['Ctrl+y', 'Ctrl+Z']], ['v', 'theme', 'Light, dark or as the system'],
    ['?', 'help', 'This help'], ['Escape', 'escape', 'Leave what you are in'],
  ]],
];

const actionOf = new Map();
for (const [, keys] of groups) {
  for (const [key, action, , also = []] of keys) {
    if (action) for (const one of [key, ...also]) actionOf.set(one, action);
  }
}

const writes = (target) => Boolean(target.closest?.('input, textarea, select, dialog[open]'));

/// What a key means here; nothing where it belongs to a field, a button or an open dialog.
export function actionFor(event) {
  if (event.altKey || event.metaKey) return null;
  const target = event.target;
  if (event.key === 'Escape') return target.closest?.('dialog[open]') ? null : 'escape';
  if (event.ctrlKey) return writes(target) ? null : actionOf.get(`Ctrl+${event.key}`) ?? null;
  if (writes(target)) return null;
  const presses = Boolean(target.closest?.('button, a, summary'));
  if (presses && (event.key === 'Enter' || event.key === ' ')) return null;
  return actionOf.get(event.key) ?? null;
}

export function fillHelp(dialog) {
  const close = el('button', {type: 'button', onclick: () => dialog.close()}, 'Close');
  const body = el('div', {class: 'keys'});
  for (const [title, keys] of groups) {
    const rows = keys.map(([key, , what, also = []]) => [el('dt', {}, el('kbd', {}, key), ...also.flatMap((one) => [' ', el('kbd', {}, one)])), el('dd', {}, what)]);
    body.append(el('section', {}, el('h3', {}, title), el('dl', {}, ...rows.flat())));
  }
  dialog.replaceChildren(el('header', {}, el('h2', {id: 'help-title'}, 'Keys'), close), body);
}
