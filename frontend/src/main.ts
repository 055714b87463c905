/** Joins everything on the page. */

import "./fonts.css";
import "./parts/tokens.css";
import "./parts/base.css";
import { mount } from "svelte";
import App from "./app.svelte";
import { watchForUpdates } from "./updates";

const target = document.getElementById("app");
if (target === null) throw new Error("index.html has no #app element to mount into");
mount(App, { target, props: { build: __BUILD__, version: __VERSION__ } });

// Nothing is written on this page yet, so any moment is a safe one.
if (import.meta.env.PROD) void watchForUpdates(() => true);
