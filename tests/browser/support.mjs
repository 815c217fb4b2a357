// A survey, the program and a browser for each test. LOTWEAR_PROGRAM, LOTWEAR_RENDER and LOTWEAR_PICTURES say where they are.
import assert from 'node:assert/strict';
import {execFileSync, spawn} from 'node:child_process';
import {cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {join} from 'node:path';
import {test} from 'node:test';
import {chromium} from 'playwright-core';

const program = process.env.LOTWEAR_PROGRAM, render = process.env.LOTWEAR_RENDER;
export const pictures = process.env.LOTWEAR_PICTURES ?? join(tmpdir(), 'lotwear-review-pictures');
const home = mkdtempSync(join(tmpdir(), 'lotwear-browser-'));
export const at = (...names) => join(home, ...names);

const assess = (photos, folder) => execFileSync(program, ['assess', photos, '-o', folder, '--site', 'Fen Yard', '--quiet'], {stdio: ['ignore', 'ignore', 'pipe']});
const draw = (tier, seed, count, megapixels, folder) => execFileSync(render, ['--tier', tier, '--seed', seed, '--count', count, '--megapixels', megapixels, '-o', folder], {stdio: 'ignore'});

/// Rendered and assessed once; every test works on a copy.
export function makeSurvey() {
  draw('plain', '80040', '3', '2', at('photos'));
  assess(at('photos'), at('made'));
  mkdirSync(pictures, {recursive: true});
}
export function makeLarge() {
  draw('clear', '80050', '1', '12', at('large-photos'));
  assess(at('large-photos'), at('large'));
  return at('large');
}
export const assessAgain = (folder) => execFileSync(program, ['assess', at('photos'), '-o', folder, '--quiet'], {stdio: ['ignore', 'ignore', 'pipe']});
export const runProgram = (...words) => execFileSync(program, words, {encoding: 'utf8'});

let copies = 0;
export function copySurvey(change = (survey) => survey) {
  const folder = at(`survey-${++copies}`);
  cpSync(at('made'), folder, {recursive: true});
  const survey = readSurvey(folder);
  survey.photos.forEach((photo, i) => { photo.position ??= {lat: 51.5 + 2e-4 * i, lon: -0.1 + 1.5e-4 * (i % 2), error_m: 4}; });
  writeFileSync(join(folder, 'survey.json'), JSON.stringify(change(survey)));
  return folder;
}
export const readSurvey = (folder) => JSON.parse(readFileSync(join(folder, 'survey.json'), 'utf8'));
export const marking = (folder, id) => readSurvey(folder).markings.find((m) => m.id === id);

/// The running program. `address` is what it printed.
export async function serve(folder, {words = ['--no-open'], env = process.env} = {}) {
  const child = spawn(program, ['review', folder, ...words], {stdio: ['ignore', 'pipe', 'pipe'], env});
  running.add(child);
  let said = '';
  const ended = new Promise((resolve) => child.on('exit', (code, signal) => {
    running.delete(child);
    resolve({code, signal, said});
  }));
  const address = await new Promise((resolve, reject) => {
    const hear = (part) => {
      said += part;
      const found = said.match(/http:\S+/);
      if (found) resolve(found[0]);
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    ended.then(() => reject(new Error(`the program ended: ${said}`)));
  });
  return {address, child, ended, kill: (signal = 'SIGINT') => (child.kill(signal), ended)};
}
const running = new Set();

let browser;
export async function newPage(settings = {}) {
  browser ??= await chromium.launch({executablePath: process.env.LOTWEAR_CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox', '--disable-gpu']});
  const context = await browser.newContext({viewport: {width: 1440, height: 900}, ...settings});
  const page = await context.newPage();
  page.setDefaultTimeout(15000);
  page.trouble = [];
  page.on('pageerror', (error) => page.trouble.push(`error: ${error.message}`));
  page.on('console', (message) => message.type() === 'error' && !/status of (4\d\d|5\d\d)/.test(message.text()) && page.trouble.push(message.text()));
  page.on('request', (request) => !/^(http:\/\/127\.0\.0\.1:|blob:|data:)/.test(request.url()) && page.trouble.push(`asked the network: ${request.url()}`));
  page.on('dialog', (dialog) => {
    page.trouble.push(`dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  return page;
}
export async function open(address, settings) {
  const page = await newPage(settings);
  await page.goto(address);
  await page.waitForSelector('#list li', {state: 'attached'});
  return page;
}
/// Nothing is on its way to the server any more.
export const settled = (page) => page.waitForFunction(() => !document.body.classList.contains('busy'));
/// The photo is on the canvas: something else than one colour.
export const photoShown = (page) => page.waitForFunction(() => {
  const canvas = document.getElementById('canvas');
  if (!canvas.width) return false;
  const pixels = canvas.getContext('2d').getImageData(canvas.width / 4, canvas.height / 2, canvas.width / 2, 1).data;
  return new Set(pixels).size > 20;
});
export const chosen = (page) => page.locator('#list [aria-current] b').innerText();

/// One test: a copy of the survey, the program, a page; nothing may go wrong in the page meanwhile.
export function story(name, work, change) {
  test(name, {timeout: 60000}, async () => {
    const folder = copySurvey(change);
    const server = await serve(folder);
    const page = await open(server.address);
    await work({folder, server, page});
    assert.deepEqual(page.trouble, []);
    await page.context().close();
    if (server.child.exitCode === null && server.child.signalCode === null) await server.kill();
  });
}
/// The first corner's place on the screen; its handle is drawn anew with every frame.
export const cornerOf = async (page) => {
  await page.waitForSelector('.corner', {state: 'attached'});
  return page.evaluate(() => {
    const box = document.querySelector('.corner').getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
  });
};
export const says = (page, words) => page.waitForFunction((source) => new RegExp(source).test(document.getElementById('live').innerText), words.source);

export async function tidyUp() {
  await browser?.close();
  for (const child of running) child.kill('SIGKILL');
  rmSync(home, {recursive: true, force: true});
}
export {join};
