// Two tabs, a kill in the middle of a save.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {chosen, copySurvey, marking, open, readSurvey, serve, settled, story} from './support.mjs';

story('two tabs cannot overwrite each other silently', async ({page, folder, server}) => {
  const id = await chosen(page);
  const second = await open(server.address);
  // the other tab does not hear of the change before it makes its own
  await second.route('**/api/here', (route) => route.abort());
  await page.keyboard.press('2');
  await settled(page);
  const count = readSurvey(folder).revision;
  await second.locator('#adhesion').selectOption('0').catch(() => {});
  await second.waitForFunction(() => /another tab|not running/.test(document.getElementById('notice').innerText));
  assert.equal(readSurvey(folder).revision, count, 'the second one was not made');
  await second.context().close();
  const third = await open(server.address);
  await third.locator('#list button', {hasText: id}).click();  // what is decided ranks lower: it is not the first one there
  await page.bringToFront();
  await page.keyboard.press('3');
  await settled(page);
  await third.waitForFunction(() => /another tab/.test(document.getElementById('notice').innerText));
  assert.equal(await third.locator('#action-grind-and-repaint').isChecked(), true, 'the idle one shows the present state');
  assert.deepEqual(third.trouble, []);
  assert.equal(marking(folder, id).person.action, 'grind-and-repaint');
});

test('a kill in the middle of saving loses nothing that was answered', {timeout: 90000}, async () => {
  const folder = copySurvey();
  let answered = 0, revision = 0;
  for (let round = 0; round < 12; ++round) {
    const server = await serve(folder);
    const {origin} = new URL(server.address), token = new URL(server.address).searchParams.get('key');
    const headers = {'Cookie': `lotwear-${new URL(origin).port}=${token}`, 'Origin': origin, 'X-Lotwear-Token': token, 'Content-Type': 'application/json'};
    const found = (await (await fetch(`${origin}/api/state`, {headers})).json()).revision;
    assert.ok(found === revision || found === revision + 1, `${found} after ${revision} were answered`);
    revision = found;
    const dies = new Promise((resolve) => setTimeout(resolve, 60 + 23 * round)).then(() => server.kill('SIGKILL'));
    for (;;) {
      const body = JSON.stringify({is: 'say', revision, id: 'M001', fields: {note: `note ${revision + 1}`}});
      const answer = await fetch(`${origin}/api/change`, {method: 'POST', headers, body}).then((one) => one.json()).catch(() => null);
      if (!answer) break;
      revision = answer.revision;
      ++answered;
    }
    await dies;
    assert.ok((readSurvey(folder).revision ?? 0) <= revision + 1, 'survey.json is whole at any moment');
  }
  assert.ok(answered > 12, `${answered} changes were answered`);
  const server = await serve(folder);
  const page = await open(server.address), kept = readSurvey(folder).revision;
  assert.ok(kept === revision || kept === revision + 1);
  assert.equal(marking(folder, 'M001').person.note, `note ${kept}`);
  await server.kill('SIGKILL');
  await page.keyboard.press('2');
  await page.waitForFunction(() => /not running any more/.test(document.getElementById('notice').innerText));
  await page.context().close();
});
