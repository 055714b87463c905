import { expect, test } from "vitest";
import { follow, positionOf, type Stream } from "./follow";

/** A network of streams that are cut by hand, and a clock that only notes what it is asked for. */
function world() {
  const streams: (Stream & { closed: boolean })[] = [];
  const waits: number[] = [];
  let due: (() => void) | undefined;
  const said: (number | "cut")[] = [];
  const following = follow(
    { position: (position) => said.push(position), cut: () => said.push("cut") },
    {
      open: () => {
        const stream = { onmessage: null, onerror: null, closed: false, close() { this.closed = true; } } as Stream & { closed: boolean };
        streams.push(stream);
        return stream;
      },
      later: (act, ms) => {
        waits.push(ms);
        due = act;
        return () => (due = undefined);
      },
    },
  );
  return { streams, waits, said, following, ring: () => due?.(), last: () => streams.at(-1) };
}

test("positions are told as they come, and what is no position is left out", () => {
  const { last, said } = world();
  for (const data of ['{"position": 3}', "", "{}", '{"position": "4"}', '{"position": 5.5}', '{"position": 6}']) last()?.onmessage?.({ data });
  expect(said).toEqual([3, 6]);
  expect(positionOf("null")).toBeUndefined();
});

test("a cut is told once, closes the stream, and waits twice as long each time, at most 30 s", () => {
  const { streams, waits, said, ring, last } = world();
  for (let n = 0; n < 7; n += 1) {
    last()?.onerror?.();
    ring();
  }
  expect(waits).toEqual([1000, 2000, 4000, 8000, 16000, 30000, 30000]);
  expect(said).toEqual(Array.from({ length: 7 }, () => "cut"));
  expect(streams.map(({ closed }) => closed)).toEqual([true, true, true, true, true, true, true, false]);
});

test("a position makes the next wait short again", () => {
  const { waits, ring, last } = world();
  last()?.onerror?.();
  ring();
  last()?.onmessage?.({ data: '{"position": 9}' });
  last()?.onerror?.();
  expect(waits).toEqual([1000, 1000]);
});

test("a late word of a stream that was given up changes nothing", () => {
  const { streams, waits, ring } = world();
  const first = streams[0];
  first?.onerror?.();
  ring();
  first?.onerror?.();
  expect(waits).toEqual([1000]);
});

test("asking now does not wait, and opens no second stream where one runs", () => {
  const { streams, following, last } = world();
  following.now();
  expect(streams).toHaveLength(1);
  last()?.onerror?.();
  following.now();
  expect(streams).toHaveLength(2);
});

test("stopping closes the stream and opens none", () => {
  const { streams, following, ring, last } = world();
  last()?.onerror?.();
  following.stop();
  ring();
  expect(streams).toHaveLength(1);
});
