/** The shapes that the first screen does not draw; they come with words-later.ts, which every later file imports. */
import { addDrawings, full, line, round, type Drawing } from "./icons";

const LATER = {
  // the six marks, and out of use
  not_looked: [{ d: round(12, 12, 8.6), fill: "control", stroke: "na", w: 2.4, dash: "3.4 2" }],
  nothing_found: [{ d: round(12, 12, 9.8), fill: "seen" }],
  finding: [
    { d: "M12 .8 23.2 12 12 23.2 .8 12Z", fill: "find" },
    { d: "M12 6.4v7", stroke: "ground", w: 2.8 }, { d: round(12, 16.8, 1.7), fill: "ground" },
  ],
  out_of_use: [
    { d: "M12 .6 23.4 12 12 23.4 .6 12Z", stroke: "stop", w: 1.8 }, { d: "M12 4.6 19.4 12 12 19.4 4.6 12Z", fill: "stop" },
  ],
  could_not_look: [{ d: "M1 12h6.5M16.5 12H23M7.5 3.5v17M16.5 3.5v17", stroke: "gap", w: 3.2 }],
  not_due: [{ d: "M6.2 6.2h11.6v11.6H6.2Z", fill: "control", stroke: "na", w: 2.6 }],
  none_here: [{ d: "M4.5 8.6h15a1.5 1.5 0 0 1 1.5 1.5v3.8a1.5 1.5 0 0 1-1.5 1.5h-15a1.5 1.5 0 0 1-1.5-1.5v-3.8a1.5 1.5 0 0 1 1.5-1.5Z", fill: "na" }],
  // what is done first
  first_nothing: [line(round(12, 12, 9))],
  first_dry: [line("M12.5 2.5C16 8 18.5 10.8 18.5 14.5a6.5 6.5 0 0 1-13 0C5.5 10.8 9 8 12.5 2.5Z")],
  first_clean: [line("M2 8c3.3-4 6.7-4 10 0s6.7 4 10 0M2 16.5c3.3-4 6.7-4 10 0s6.7 4 10 0", 2.8)],
  first_whole: [line("M20.5 12a8.5 8.5 0 1 1-3-6.5", 2.8), full("M22.5 1.5v7h-7Z")],
  // where it goes
  goes_on: [line("M2 12h15M11 5l7 7-7 7M22 3v18", 2.8)],
  goes_hang: [line("M12 1v8.5c0 3 5 3.5 5 7.5a5.5 5.5 0 0 1-11 0", 2.8)],
  goes_hold: [full("M5 2h14a3 3 0 0 1 3 3v14a3 3 0 0 1-3 3H5a3 3 0 0 1-3-3V5a3 3 0 0 1 3-3Z"), { d: "M9 7v10M15 7v10", stroke: "ground", w: 3 }],
  goes_repair: [line("M2.5 8 12 3.2 21.5 8v9.5L12 22l-9.5-4.5ZM2.5 8 12 12.6 21.5 8M12 12.6V22", 2.4)],
  // acts and things
  up: [line("m4 15.5 8-8 8 8", 3)],
  down: [line("m4 8.5 8 8 8-8", 3)],
  plus: [line("M12 4v16M4 12h16", 3)],
  minus: [line("M4 12h16", 3)],
  zone: [line("M6 3H2.5v18H6M18 3h3.5v18H18"), line("M6 12h12", 5)],
  light: [line(round(12, 12, 4.6), 2.3), line("M12 1.5v3M12 19.5v3M1.5 12h3M19.5 12h3M4.6 4.6l2 2M17.4 17.4l2 2M4.6 19.4l2-2M17.4 6.6l2-2", 2.3)],
  help: [line(round(12, 12, 10), 2.4), line("M8.8 9.3a3.3 3.3 0 1 1 4.9 2.9c-1.2.7-1.7 1.2-1.7 2.4", 2.4), full(round(12, 17.6, 1.5))],
  done: [line("m3 12.5 6 6L21 5.5", 3)],
  foot: [line("M2 20h20M4 17.5 19.5 9l1.8 3.2-13 5.3", 2.4)],
  tag: [full("M7 2h10v20l-5-3.5L7 22Z"), { d: round(12, 7, 2.2), fill: "ground" }],
  not_heard: [{ d: "M4.5 4h15A2.5 2.5 0 0 1 22 6.5v11a2.5 2.5 0 0 1-2.5 2.5h-15A2.5 2.5 0 0 1 2 17.5v-11A2.5 2.5 0 0 1 4.5 4Z", stroke: "ink", w: 2.3, dash: "3.5 2.5" }, line("M7 12h10")],
  tool: [line(round(9.5, 9.5, 7), 2.4), line("m14.6 14.6 7 7", 3.4)],
  lock: [full("M6 10.5h12a2 2 0 0 1 2 2v7a2 2 0 0 1-2 2H6a2 2 0 0 1-2-2v-7a2 2 0 0 1 2-2Z"), line("M7.5 10.5V7a4.5 4.5 0 0 1 9 0v3.5")],
  seal: [line("M2 3h20v18H2ZM2 12h20", 2.4), full(round(12, 12, 4.4))],
  then_now: [line("M2 5h8.5v14H2ZM13.5 5H22v14h-8.5Z", 2.3)],
  channel: [line("M2 12h20", 2.4), { d: "M7 12h10", stroke: "ink", w: 5 }],
  eye_shut: [line("M2 9c5 7 15 7 20 0M5 13l-2 3M12 15v4M19 13l2 3", 2.6)],
  sound: [full("M2 8.5h4.5L12 4v16l-5.5-4.5H2Z"), line("M15.5 8.5c2 2 2 5 0 7M18.5 5.5c4 4 4 9 0 13", 2.3)],
  silent: [full("M2 8.5h4.5L12 4v16l-5.5-4.5H2Z"), line("m15.5 9 6 6M21.5 9l-6 6", 2.3)],
} as const satisfies Record<string, Drawing>;

export type Later = typeof LATER;

addDrawings(LATER);
