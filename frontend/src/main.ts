import "./parts/tokens.css";
import { mount } from "svelte";
import App from "./app.svelte";

const target = document.getElementById("app");
if (target === null) throw new Error("index.html has no #app element to mount into");
mount(App, { target });
