// The real page in a real browser: everything a person can do there, what is on the disk afterwards, and what must not
// happen. Run by ctest (browser/review), or: LOTWEAR_PROGRAM=... LOTWEAR_RENDER=... tests/browser/run.sh
import {after, before} from 'node:test';
import './decide.mjs';
import './outline.mjs';
import './safe.mjs';
import './fit.mjs';
import {makeSurvey, tidyUp} from './support.mjs';

before(makeSurvey);
after(tidyUp);
