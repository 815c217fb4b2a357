// Two photos show the same paint: which marking is the one that counts?
import {el, isFalse, kindWords, percent, sign} from './words.js';

/// The likeliest first: another photo, the same kind, taken near by.
function likely(marking, state) {
  const place = (m) => state.photos[m.photo]?.place;
  const away = (m) => (place(m) && place(marking) ? Math.hypot(place(m)[0] - place(marking)[0], place(m)[1] - place(marking)[1]) : 30);
  const score = (m) => (m.photo === marking.photo ? 1000 : 0) + (m.kind === marking.kind ? 0 : 50) + away(m) + Math.abs((m.photo ?? 0) - (marking.photo ?? 0)) * 0.1;
  return state.markings.filter((m) => m.id !== marking.id && !isFalse(m) && m.same_as !== marking.id).sort((a, b) => score(a) - score(b));
}

export function fillSame(dialog, marking, state, choose) {
  const close = el('button', {type: 'button', onclick: () => dialog.close()}, 'Close');
  const list = el('ul', {class: 'candidates'});
  for (const other of likely(marking, state)) {
    const picture = other.pictures.photo ? el('img', {src: `/evidence/${encodeURIComponent(other.id)}/photo?v=${encodeURIComponent(other.pictures.photo)}`, alt: '', loading: 'lazy'}) : null;
    list.append(el('li', {}, el('button', {type: 'button', onclick: () => {
      dialog.close();
      choose(other.id);
    }}, picture, el('span', {}, sign(other.decision.action), el('b', {}, other.id), ` ${kindWords[other.kind]}, ${percent(other.remaining[1])} left, ${state.photos[other.photo]?.file ?? ''}`))));
  }
  dialog.replaceChildren(el('header', {}, el('h2', {id: 'same-title'}, `${marking.id} is the same paint as…`), close),
    el('p', {class: 'quiet'}, 'Choose the one with the better view: it is counted, this one is not counted again.'), list);
}
