// What frames the photo: how far the review has come, and the marking's two pictures.
import {el, isConfirmed, isFalse} from './words.js';

const $ = (id) => document.getElementById(id);

export function showProgress(markings) {
  const counted = markings.filter((m) => !isFalse(m)), confirmed = counted.filter(isConfirmed).length;
  const share = counted.length ? confirmed / counted.length : 1;
  $('stripe').setAttribute('aria-valuemax', counted.length);
  $('stripe').setAttribute('aria-valuenow', confirmed);
  $('stripe').setAttribute('aria-valuetext', `${confirmed} of ${counted.length} confirmed`);
  $('stripe').firstChild.style.width = `${100 * share}%`;
  const struck = markings.length - counted.length;
  $('progress-words').textContent = `${confirmed} of ${counted.length} confirmed${struck ? `, ${struck} struck out` : ''}`;
}

export function showViews(marking) {
  const views = [['plan', 'From straight above', 'seen from straight above'], ['loss', 'What is left, and how the rest went', 'map of what is left and what was lost']];
  const figures = views.map(([which, caption, alt]) => {
    const name = marking.pictures[which];
    if (!name) return el('figure', {class: 'none'}, el('p', {class: 'quiet'}, 'No picture: it was not measured.'), el('figcaption', {}, caption));
    return el('figure', {}, el('img', {src: `/evidence/${encodeURIComponent(marking.id)}/${which}?v=${encodeURIComponent(name)}`, alt: `${marking.id} ${alt}`}), el('figcaption', {}, caption));
  });
  const key = JSON.stringify([marking.id, marking.pictures]);
  if ($('views').dataset.key === key) return;
  $('views').dataset.key = key;
  $('views').replaceChildren(...figures);
}
