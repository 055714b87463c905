/** Joins everything on the page. */

import "./fonts.css";
import "./parts/tokens.css";
import "./parts/base.css";
import { mount } from "svelte";
import App from "./app.svelte";
import { configureRecord, drafts, status } from "./record";
import { watchForUpdates } from "./updates";

const target = document.getElementById("app");
if (target === null) throw new Error("index.html has no #app element to mount into");
configureRecord({ build: `${__VERSION__}+${__BUILD__}` });
mount(App, { target });

/** A new build takes over only when nothing is begun: no draft, no photo on its way. */
let begun = true;
let sending = true;
const look = (): void => void drafts().then((found) => (begun = found.length > 0), () => undefined);
status.subscribe(({ sending: now }) => {
  sending = now;
  look();
});
if (import.meta.env.PROD) void watchForUpdates(() => !begun && !sending && location.hash.replace("#/home", "#/") !== "#/route");
