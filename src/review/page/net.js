// Every wish says on which revision it was made; the answer to an old one is "stale", and the page reads everything again.
const token = document.querySelector('meta[name="lotwear-token"]').content;
const tab = [...crypto.getRandomValues(new Uint8Array(8))].map((b) => b.toString(16).padStart(2, '0')).join('');

export class Stale extends Error {}
export class Refused extends Error {}
export class Ended extends Error {}

async function ask(path, body, more = {}) {
  let answer;
  try {
    answer = await fetch(path, body === undefined ? more : {
      method: 'POST', body: JSON.stringify(body),
      headers: {'Content-Type': 'application/json', 'X-Lotwear-Token': token}, ...more,
    });
  } catch {
    throw new Ended('lotwear review is not running any more. What you did is saved; start it again and open its new address.');
  }
  const said = await answer.json().catch(() => ({}));
  if (answer.ok) return said;
  if (answer.status === 409) throw new Stale(said.trouble);
  if (answer.status === 403) throw new Ended(said.trouble);
  throw new Refused(said.trouble ?? `the answer was ${answer.status}`);
}

export const state = () => ask('/api/state');
export const change = (wish) => ask('/api/change', wish);
export const foresee = (photo) => ask('/api/foresee', {photo}).catch(() => {});
export const done = () => ask('/api/done', {});

/// Tells the server every few seconds that this tab is open, and the page which revision the survey has.
export function stay(heard, lost) {
  let gone = false;
  const speak = async () => {
    if (gone) return;
    try {
      heard((await ask('/api/here', {tab})).revision);
    } catch (error) {
      lost(error);
    }
  };
  speak();
  const timer = setInterval(speak, 2000);
  addEventListener('pagehide', () => {
    ask('/api/gone', {tab}, {keepalive: true}).catch(() => {});
  });
  addEventListener('pageshow', (event) => event.persisted && speak());
  return () => {
    gone = true;
    clearInterval(timer);
  };
}
