// Outlines by hand and by keys: corners, rings, missed markings, templates, false alarms, two views of one.
import assert from 'node:assert/strict';
import {chosen, join, marking, photoShown, pictures, readSurvey, settled, story, cornerOf, says} from './support.mjs';

story('a corner dragged in the photo is measured again; undo and redo', async ({page, folder}) => {
  const id = await chosen(page), before = marking(folder, id);
  await photoShown(page);
  await page.keyboard.press('e');
  const [x, y] = await cornerOf(page);
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x - 20, y - 15, {steps: 4});
  await page.mouse.up();
  await settled(page);
  let now = marking(folder, id);
  assert.equal(now.person.outline[0].length, before.outline[0].length);
  assert.notDeepEqual(now.person.outline[0][0], before.outline[0][0]);
  assert.deepEqual(now.paint, before.paint, 'what was measured stays');
  assert.notDeepEqual(now.person.measured.paint, before.paint);
  await says(page, /Measured again/);
  assert.match(await page.locator('#views img').first().getAttribute('src'), /-r1-plan/);
  await page.locator('#undo').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
  await page.keyboard.press('Escape');
  await page.keyboard.press('Shift+Z');
  await settled(page);
  assert.deepEqual(marking(folder, id).person.outline, now.person.outline);
  await page.keyboard.press('Control+z');
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('corners and rings by keys alone', async ({page, folder}) => {
  const id = await chosen(page), before = marking(folder, id), corners = before.outline[0].length;
  await photoShown(page);
  await page.keyboard.press('e');
  await page.keyboard.press(']');
  await says(page, /corner 2 of/);
  const [x] = before.outline[0][1], by = x > 20 ? -10 : 10;  // a corner stays in the photo
  await page.keyboard.press(by < 0 ? 'Shift+ArrowLeft' : 'Shift+ArrowRight');
  await page.keyboard.press('i');
  await page.waitForTimeout(600);
  await settled(page);
  let rings = marking(folder, id).person.outline;
  assert.equal(rings[0].length, corners + 1);
  assert.equal(rings[0][1][0], Math.round(10 * (x + by)) / 10);
  await page.keyboard.press('Delete');
  await page.waitForTimeout(600);
  await settled(page);
  assert.equal(marking(folder, id).person.outline[0].length, corners);
  await page.keyboard.press('y');
  for (const key of ['Space', 'ArrowRight', 'Space', 'ArrowDown', 'Space']) {
    if (key.startsWith('Arrow')) for (let i = 0; i < 3; ++i) await page.keyboard.press(`Shift+${key}`);
    else await page.keyboard.press(key);
  }
  await page.keyboard.press('Enter');
  await settled(page);
  assert.equal(marking(folder, id).person.outline.length, before.outline.length + 1);
  await page.keyboard.press('Shift+Y');
  await page.waitForTimeout(600);
  await settled(page);
  assert.equal(marking(folder, id).person.outline.length, before.outline.length);
  await page.locator('#outline-found').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('a missed marking is drawn from scratch, by hand and by keys', async ({page, folder}) => {
  const count = readSurvey(folder).markings.length;
  await photoShown(page);
  await page.keyboard.press('h');
  await page.keyboard.press('d');
  await page.locator('#draw-kind').selectOption('stop-line');
  const box = await page.locator('#photo').boundingBox();
  const point = (fx, fy) => [box.x + box.width * fx, box.y + box.height * fy];
  for (const p of [point(0.4, 0.7), point(0.6, 0.7), point(0.6, 0.75), point(0.4, 0.75)]) await page.mouse.click(...p);
  await page.mouse.click(...point(0.4, 0.7));
  await settled(page);
  let survey = readSurvey(folder);
  assert.equal(survey.markings.length, count + 1);
  const added = survey.markings.at(-1);
  assert.deepEqual([added.person.added, added.person.kind, added.person.outline[0].length], [true, 'stop-line', 4]);
  assert.ok(added.size.area_m2 > 0);
  assert.equal(await chosen(page), added.id);
  await page.keyboard.press('Escape');
  await page.keyboard.press('z');
  await settled(page);
  assert.equal(readSurvey(folder).markings.length, count);
  await page.keyboard.press('d');
  await page.keyboard.press('Space');
  for (let i = 0; i < 4; ++i) await page.keyboard.press('Shift+ArrowLeft');
  await page.keyboard.press('Space');
  for (let i = 0; i < 2; ++i) await page.keyboard.press('Shift+ArrowDown');
  await page.keyboard.press('Space');
  await page.keyboard.press('Enter');
  await settled(page);
  assert.equal(readSurvey(folder).markings.length, count + 1);
});

story('a template is placed by two clicks, and its corners can be dragged', async ({page, folder}) => {
  const count = readSurvey(folder).markings.length;
  await photoShown(page);
  await page.keyboard.press('h');
  await page.locator('#template').selectOption('arrow-straight');
  assert.match(await page.locator('#hint').innerText(), /foot, then the tip/);
  const box = await page.locator('#photo').boundingBox();
  await page.mouse.click(box.x + box.width * 0.5, box.y + box.height * 0.85);
  await page.mouse.click(box.x + box.width * 0.5, box.y + box.height * 0.6);
  await settled(page);
  const added = readSurvey(folder).markings.at(-1);
  assert.equal(readSurvey(folder).markings.length, count + 1);
  assert.equal(added.person.kind, 'arrow-straight');
  const [x, y] = await cornerOf(page);
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + 9, y + 9, {steps: 3});
  await page.mouse.up();
  await settled(page);
  assert.notDeepEqual(readSurvey(folder).markings.at(-1).person.outline, added.person.outline);
});

story('a false alarm is struck out, counts nowhere, and can come back', async ({page, folder}) => {
  const id = await chosen(page), count = readSurvey(folder).markings.length;
  await page.keyboard.press('x');
  await settled(page);
  assert.equal(marking(folder, id).person.false_alarm, true);
  assert.match(await page.locator('#progress-words').innerText(), new RegExp(`of ${count - 1} confirmed, 1 struck out`));
  await page.locator('#filter').selectOption('false');
  assert.deepEqual(await page.locator('#list b').allInnerTexts(), [id]);
  await page.locator('#false-alarm').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('two views of one marking are joined, and parted again', async ({page, folder}) => {
  const id = await chosen(page);
  await page.keyboard.press('m');
  const other = await page.locator('#same .candidates b').first().innerText();
  await page.locator('#same .candidates button').first().click();
  await settled(page);
  assert.equal(marking(folder, id).person.same_as, other);
  assert.match(await page.locator('.again').innerText(), new RegExp(`same paint as ${other}`));
  await page.locator('.again button.small').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

/// As if assess had found the second marking to be the first one again.
const linked = (survey) => {
  survey.markings[1].same_as = survey.markings[0].id;
  survey.markings[1].same_as_confidence = 0.97;
  return survey;
};

story('a link that assess found is undone by a person, and comes back with undo', async ({page, folder}) => {
  const [first, second] = readSurvey(folder).markings.map((m) => m.id);
  await page.locator('#list button', {hasText: second}).first().click();
  await page.waitForFunction((id) => document.querySelector('#list [aria-current] b').innerText === id, second);
  assert.match(await page.locator('.again').innerText(), new RegExp(`same paint as ${first}`));
  await page.getByRole('button', {name: 'It is not'}).click();
  await settled(page);
  // its own id: it repeats none, whatever assess finds the next time
  assert.equal(marking(folder, second).person.same_as, second);
  assert.equal(marking(folder, second).same_as, first);
  assert.equal(await page.getByRole('button', {name: 'It is not'}).isVisible(), false);
  await page.keyboard.press('Control+z');
  await settled(page);
  assert.equal(marking(folder, second).person, null);
  assert.match(await page.locator('.again').innerText(), new RegExp(`same paint as ${first}`));
}, linked);

story('filters, ranks and the site plan', async ({page, folder}) => {
  const survey = readSurvey(folder);
  await page.locator('#rank').selectOption('worn');
  const left = (await page.locator('#list b').allInnerTexts()).map((id) => survey.markings.find((m) => m.id === id).paint.remaining_percent);
  assert.deepEqual(left, [...left].sort((a, b) => a - b));
  for (const action of ['grind-and-repaint', 'repaint', 'no-action']) {
    await page.locator('#filter').selectOption(action);
    assert.equal(await page.locator('#list li').count(), survey.markings.filter((m) => m.action === action).length);
  }
  await page.locator('#filter').selectOption('open');
  await page.keyboard.press('s');
  await page.waitForSelector('#site-plan .spot');
  assert.equal(await page.locator('#site-plan .spot').count(), survey.photos.length);
  await page.screenshot({path: join(pictures, 'site-plan.png')});
  const last = page.locator('#site-plan .spot').last();
  assert.match(await last.getAttribute('aria-label'), /to check/);
  await last.press('Enter');
  await page.waitForFunction(() => !document.getElementById('site-plan').open);
  await settled(page);
  assert.equal(readSurvey(folder).revision, undefined, 'choosing is no confirming');
  const here = survey.markings.find((m) => m.id === '' || m.photo === survey.photos.at(-1).file);
  if (here) await page.waitForFunction((file) => document.getElementById('photo-name').innerText.startsWith(file), survey.photos.at(-1).file);
});
