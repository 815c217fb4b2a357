// Walking through the markings and deciding: what a person says is on the disk at once, beside what was measured.
import assert from 'node:assert/strict';
import {chosen, marking, readSurvey, settled, story} from './support.mjs';

story('the walk goes in order of doubt, then priority, by keys alone', async ({page, folder}) => {
  const byId = new Map(readSurvey(folder).markings.map((m) => [m.id, m]));
  const ids = await page.locator('#list b').allInnerTexts();
  assert.equal(ids.length, byId.size);
  const doubt = (id) => (byId.get(id).needs_review ? 2 : byId.get(id).kind_confidence < 0.7 ? 1 : 0);
  for (let i = 1; i < ids.length; ++i) {
    assert.ok(doubt(ids[i - 1]) >= doubt(ids[i]));
    if (doubt(ids[i - 1]) === doubt(ids[i])) assert.ok(byId.get(ids[i - 1]).priority >= byId.get(ids[i]).priority);
  }
  assert.equal(await chosen(page), ids[0]);
  await page.keyboard.press('n');
  assert.equal(await chosen(page), ids[1]);
  await page.keyboard.press('p');
  assert.equal(await chosen(page), ids[0]);
  await page.keyboard.press('c');
  await settled(page);
  assert.equal(marking(folder, ids[0]).person.confirmed, true);
  await page.waitForFunction((id) => document.querySelector('#list [aria-current] b').innerText === id, ids[1]);
  assert.equal(await page.locator('#stripe').getAttribute('aria-valuenow'), '1');
  assert.match(await page.locator('#progress-words').innerText(), new RegExp(`1 of ${ids.length} confirmed`));
});

story('action, kind and colour: the person wins, the measurement stays beside', async ({page, folder}) => {
  const id = await chosen(page), measured = marking(folder, id);
  await page.keyboard.press('3');
  await settled(page);
  assert.equal(marking(folder, id).person.action, 'grind-and-repaint');
  assert.equal(marking(folder, id).action, 'grind-and-repaint');
  assert.match(await page.locator('.verdict').innerText(), /You decided\. Measured alone/);
  await page.keyboard.press('1');
  await settled(page);
  assert.equal(marking(folder, id).action, 'no-action');
  await page.keyboard.press('0');
  await settled(page);
  assert.equal(marking(folder, id).action, measured.action);
  assert.equal(marking(folder, id).person, null);
  await page.locator('#kind').selectOption('legend');
  await page.locator('#colour').selectOption('blue');
  await settled(page);
  const said = marking(folder, id);
  assert.deepEqual([said.person.kind, said.person.colour, said.kind, said.colour], ['legend', 'blue', measured.kind, measured.colour]);
  assert.match(await page.locator('#kind-beside').innerText(), /measured/);
  await page.getByRole('button', {name: 'Take your word on the kind back'}).click();
  await settled(page);
  assert.equal(marking(folder, id).person.kind, undefined);
});

story('what only a person knows changes decision and reasons at once', async ({page, folder}) => {
  const id = await chosen(page);
  await page.locator('#adhesion').selectOption('1');
  await settled(page);
  assert.equal(marking(folder, id).action, 'grind-and-repaint');
  assert.match(await page.locator('.reasons').innerText(), /tape pull took off 35 to 65 %/);
  await page.locator('#adhesion').selectOption('5');
  await page.locator('#below').selectOption('yes');
  await settled(page);
  assert.match(await page.locator('.reasons').innerText(), /paint below was recorded/);
  await page.locator('#below').selectOption('');
  await page.locator('#build-up').fill('1.6');
  await page.locator('#build-up').blur();
  await page.locator('#sound').selectOption('no');
  await settled(page);
  assert.match(await page.locator('.reasons').innerText(), /1\.6 mm \(63 mil\)/);
  await page.locator('#coats').fill('4');
  await page.locator('#note').fill('came off in sheets\nnear the drain');
  await page.locator('#note').blur();
  await settled(page);
  assert.deepEqual(marking(folder, id).person, {adhesion: 5, build_up_mm: 1.6, build_up_sound: false, coats: 4, note: 'came off in sheets\nnear the drain'});
});

story('a note is saved without leaving the field', async ({page, folder}) => {
  const id = await chosen(page);
  await page.keyboard.press('w');
  await page.keyboard.type('half a sentence');
  await page.waitForTimeout(1700);
  await settled(page);
  assert.equal(marking(folder, id).person.note, 'half a sentence');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'note');
});
