// The walk: which markings are shown, and in which order. The order stays while a person works: a marking does not jump
// away under the hand because its numbers changed.
import {actionWords, el, inDoubt, isConfirmed, isFalse, isSettled, kindOf, kindWords, percent, sign} from './words.js';

export const filters = {
  all: ['All that count', (m) => !isFalse(m)],
  open: ['Still to check', (m) => !isSettled(m)],
  doubt: ['In doubt', inDoubt],
  confirmed: ['Confirmed', isConfirmed],
  changed: ['Changed by a person', (m) => m.person !== null],
  false: ['False alarms', isFalse],
  repeats: ['The same as another', (m) => m.same_as !== null],
  'grind-and-repaint': ['To grind and repaint', (m) => m.decision.action === 'grind-and-repaint' && !isFalse(m)],
  repaint: ['To repaint', (m) => m.decision.action === 'repaint' && !isFalse(m)],
  'no-action': ['To leave', (m) => m.decision.action === 'no-action' && !isFalse(m)],
};

/// Doubt first: what a person is asked to look at; then kinds that are not sure; among equals what matters most.
function doubtOf(marking, sureFrom) {
  if (isSettled(marking)) return 0;
  if (marking.decision.needs_review) return 2;
  return marking.measured.kind_confidence < sureFrom && !marking.person?.kind ? 1 : 0;
}
export const ranks = {
  doubt: ['in doubt, then priority', (s) => (a, b) => doubtOf(b, s) - doubtOf(a, s) || b.decision.priority - a.decision.priority],
  priority: ['priority', () => (a, b) => b.decision.priority - a.decision.priority],
  worn: ['least paint left', () => (a, b) => a.remaining[1] - b.remaining[1]],
  photo: ['by photo', () => (a, b) => (a.photo ?? 1e9) - (b.photo ?? 1e9)],
  kind: ['by kind', () => (a, b) => a.kind.localeCompare(b.kind)],
  id: ['by number', () => () => 0],
};

export function orderOf(markings, filter, rank, sureFrom) {
  const chosen = markings.filter((filters[filter] ?? filters.kind(filter))[1]);
  return chosen.sort((a, b) => ranks[rank][1](sureFrom)(a, b) || a.id.localeCompare(b.id, 'en', {numeric: true})).map((m) => m.id);
}
filters.kind = (kind) => ['', (m) => m.kind === kind.slice(5) && !isFalse(m)];

export function fillFilter(select, kinds, markings) {
  select.replaceChildren();
  for (const [name, value] of Object.entries(filters)) {
    if (name !== 'kind') select.append(el('option', {value: name}, value[0]));
  }
  const group = el('optgroup', {label: 'One kind'});
  for (const kind of kinds) {
    if (markings.some((m) => m.kind === kind)) group.append(el('option', {value: `kind ${kind}`}, kindWords[kind]));
  }
  select.append(group);
}

function standing(marking) {
  if (isFalse(marking)) return 'false alarm';
  if (isConfirmed(marking)) return 'confirmed';
  return inDoubt(marking) ? 'in doubt' : '';
}

/// What of a marking its row shows; as long as that is the same, the row is.
const face = (m) => JSON.stringify([m.kind, m.words, m.colour, m.decision.action, m.remaining[1], m.person?.confirmed, m.person?.false_alarm, m.decision.needs_review, m.same_as, m.unmeasured]);

function row(marking, choose) {
  const said = standing(marking);
  const mark = isConfirmed(marking) ? sign('confirmed') : inDoubt(marking) ? sign('doubt') : null;
  const button = el('button', {type: 'button', onclick: () => choose(marking.id)},
    sign(marking.decision.action),
    el('span', {class: 'what'}, el('b', {}, marking.id), ` ${kindOf(marking)}`,
      el('span', {class: 'quiet'}, marking.same_as ? `same as ${marking.same_as}` : `${marking.colour}, ${actionWords[marking.decision.action].toLowerCase()}`)),
    el('span', {class: 'left'}, marking.unmeasured ? '–' : percent(marking.remaining[1])),
    el('span', {class: 'mark'}, mark, el('span', {class: 'unseen'}, said ? `, ${said}` : '')));
  const item = el('li', {class: isFalse(marking) ? 'struck' : isConfirmed(marking) ? 'settled' : ''}, button);
  item.dataset.id = marking.id;
  item.dataset.face = face(marking);
  return item;
}

/// The list scrolls, never the page: on a phone the photo stays where it is.
function bring(list, item) {
  const top = item.offsetTop - list.offsetTop;
  if (top < list.scrollTop) list.scrollTop = top;
  else if (top + item.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = top + item.offsetHeight - list.clientHeight;
}

export function showList(list, ids, byId, current, choose) {
  const old = new Map([...list.children].map((item) => [item.dataset.id, item]));
  const items = ids.filter((id) => byId.has(id)).map((id) => {
    const kept = old.get(id), marking = byId.get(id);
    return kept && kept.dataset.face === face(marking) ? kept : row(marking, choose);
  });
  const focused = document.activeElement?.closest?.('#list li')?.dataset.id;
  if (items.length !== list.children.length || items.some((item, i) => list.children[i] !== item)) list.replaceChildren(...items);
  for (const item of items) {
    const here = item.dataset.id === current;
    if (here) item.firstChild.setAttribute('aria-current', 'true');
    else item.firstChild.removeAttribute('aria-current');
    if (here) bring(list, item);
    if (item.dataset.id === focused) item.firstChild.focus({preventScroll: true});
  }
}
