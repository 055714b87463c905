/** Joins everything on the page. */

import "./fonts.css";
import "./parts/tokens.css";
import "./parts/base.css";
import { mount } from "svelte";
import App from "./app.svelte";
import { until, whenSettled } from "./parts/settled";
import { configureRecord, drafts } from "./record";
import { practising } from "./record/practice";

/** Its own part of the build: who records never loads it. */
const openPractice = (): Promise<void> => import("./screens/practice").then((practice) => practice.openPractice());

const target = document.getElementById("app");
if (target === null) throw new Error("index.html has no #app element to mount into");
configureRecord({ build: `${__VERSION__}+${__BUILD__}` });
// A window that practises turns to its own store before any screen stands.
const ready = practising() === undefined ? Promise.resolve() : openPractice();
void until(ready).then(() => mount(App, { target }));

/** A new build takes over only when nothing is being saved and nothing is begun. */
async function isSafe(): Promise<boolean> {
  await whenSettled();
  return drafts().then((found) => found.length === 0, () => false);
}
// After the first screen; where its file does not come, the next opening asks again.
if (import.meta.env.PROD) void import("./updates").then(({ watchForUpdates }) => watchForUpdates(isSafe), () => undefined);
