import { beforeEach, describe, expect, test } from "vitest";
import { press, screenChanged } from "./press";
import { DEAD_MS, HOLD_MS, TouchJudge } from "./press-rules";

describe("the water rules", () => {
  const lift = (held: number, inside = true) => {
    const judge = new TouchJudge();
    judge.down(1, 1000);
    return judge.up(1, 1000 + held, inside);
  };

  test("a touch of 40 to 1500 ms that is lifted inside its target is a press", () => {
    expect([39, 40, 300, 1500, 1501].map((held) => lift(held))).toEqual(["too_short", "press", "press", "press", "too_long"]);
    expect(lift(300, false)).toBe("outside");
  });

  test("two fingers at once press nothing, whichever is lifted first", () => {
    const judge = new TouchJudge();
    judge.down(1, 0);
    judge.down(2, 200);
    expect([judge.up(1, 400, true), judge.up(2, 500, true)]).toEqual(["not_alone", "not_alone"]);
    judge.down(3, 600);
    expect(judge.up(3, 700, true), "the next single touch counts").toBe("press");
  });

  test("a hand that rests on the glass longer than a press blocks no other finger", () => {
    const judge = new TouchJudge();
    judge.down(1, 0);
    judge.down(2, HOLD_MS.most + 1);
    expect(judge.up(2, HOLD_MS.most + 200, true)).toBe("press");
    expect(judge.up(1, HOLD_MS.most + 300, true)).toBe("too_long");
  });

  test("three contacts within 80 ms are drops, even when the first was lifted before the third fell", () => {
    const judge = new TouchJudge();
    judge.down(1, 0);
    judge.down(2, 40);
    judge.down(3, 80);
    expect([1, 2, 3].map((pointer) => judge.up(pointer, 200, true))).toEqual(["drops", "drops", "drops"]);
    const slow = new TouchJudge();
    slow.down(1, 0);
    expect(slow.up(1, 41, true)).toBe("press");
    slow.down(2, 50);
    expect(slow.up(2, 60, true)).toBe("too_short");
    slow.down(3, 70);
    expect(slow.up(3, 170, true), "a third contact within 80 ms").toBe("drops");
  });

  test("after a screen change no touch counts for 250 ms, nor one that began before it ended", () => {
    const judge = new TouchJudge();
    judge.screenChanged(1000);
    judge.down(1, 1000 + DEAD_MS - 1);
    expect(judge.up(1, 1000 + DEAD_MS + 200, true)).toBe("dead_time");
    judge.down(2, 1000 + DEAD_MS);
    expect(judge.up(2, 1000 + DEAD_MS + 100, true)).toBe("press");
  });

  test("a touch the browser took for scrolling is no press", () => {
    const judge = new TouchJudge();
    judge.down(1, 0);
    judge.cancel(1);
    expect(judge.up(1, 100, true)).toBe("unknown");
  });
});

/** A page with one button, 100 px wide and high, made of plain event targets. */
class Bench {
  readonly page = new EventTarget();
  readonly node = Object.assign(new EventTarget(), {
    ownerDocument: { defaultView: this.page },
    getBoundingClientRect: () => ({ left: 0, right: 100, top: 0, bottom: 100 }),
  });
  presses = 0;
  readonly #action = press(this.node as unknown as HTMLElement, () => { this.presses += 1; });

  /** Sends an event the way it travels: page (capture), button, page (bubble). Node's targets have no tree. */
  send(type: string, facts: object): Event {
    const make = () => Object.defineProperties(new Event(type, { cancelable: true }), Object.getOwnPropertyDescriptors(facts));
    const first = type === "pointerdown";
    if (first) this.page.dispatchEvent(make());
    const own = make();
    this.node.dispatchEvent(own);
    if (!first) this.page.dispatchEvent(make());
    return own;
  }

  touch(at: number, held: number, x = 50): void {
    const finger = { pointerType: "touch", pointerId: 7, width: 30, height: 30, pressure: 0.5, clientX: x, clientY: 50 };
    this.send("pointerdown", { ...finger, clientX: 50, timeStamp: at });
    // A browser may give the lift no size at all.
    this.send("pointerup", { ...finger, pressure: 0, width: 1, height: 1, timeStamp: at + held });
  }

  click(at: number, detail: number): Event {
    return this.send("click", { timeStamp: at, detail });
  }

  leave(): void {
    (this.#action as { destroy?: () => void } | undefined)?.destroy?.();
  }
}

describe("a button with the press action", () => {
  let start = 10_000;
  beforeEach(() => {
    start += 100_000; // later than whatever the test before touched
  });

  test("acts once for a touch, and swallows the click the browser makes of it", () => {
    const bench = new Bench();
    bench.touch(start, 120);
    const made = bench.click(start + 125, 1);
    expect(bench.presses).toBe(1);
    expect(made.defaultPrevented).toBe(true);
    bench.leave();
  });

  test("does nothing for a drop, a slide off the target, or a screen that just changed", () => {
    const bench = new Bench();
    bench.touch(start, 10);
    bench.click(start + 12, 1);
    bench.touch(start + 2000, 200, 140);
    bench.click(start + 2205, 1);
    screenChanged(start + 4000);
    bench.touch(start + 4100, 100);
    bench.click(start + 4205, 1);
    expect(bench.presses).toBe(0);
    bench.leave();
  });

  test("a click made of a touch on the screen before does not press the button that came under the finger", () => {
    const before = new Bench();
    before.touch(start, 100);
    const after = new Bench();
    after.click(start + 110, 1);
    expect([before.presses, after.presses]).toEqual([1, 0]);
    before.leave();
    after.leave();
  });

  test("the keyboard and a script's click act even right after a touch", () => {
    const bench = new Bench();
    bench.touch(start, 10);
    bench.click(start + 20, 0);
    expect(bench.presses).toBe(1);
    bench.leave();
  });

  test("a screen reader's own contact without size acts by its click, however short", () => {
    const bench = new Bench();
    const made = { pointerType: "touch", pointerId: 9, width: 0, height: 0, pressure: 0, clientX: 50, clientY: 50 };
    bench.send("pointerdown", { ...made, timeStamp: start });
    bench.send("pointerup", { ...made, timeStamp: start + 1 });
    bench.click(start + 2, 1);
    expect(bench.presses).toBe(1);
    bench.leave();
  });

  test("a mouse acts by its click, however short and however soon after a touch", () => {
    const bench = new Bench();
    bench.touch(start, 10);
    bench.send("pointerdown", { pointerType: "mouse", pointerId: 1, width: 1, height: 1, pressure: 0.5, timeStamp: start + 50 });
    bench.click(start + 51, 1);
    expect(bench.presses).toBe(1);
    bench.leave();
  });

  test("a touch may follow a touch that was lifted", () => {
    const bench = new Bench();
    bench.touch(start, 100);
    bench.touch(start + 400, 100);
    expect(bench.presses).toBe(2);
    bench.leave();
  });
});
