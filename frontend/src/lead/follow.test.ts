import { expect, test } from "vitest";
import { follow, positionOf, SILENCE_MS, wordsOf, type Heard } from "./follow";

/** A network of streams that are cut by hand, and a clock that is moved by hand. */
function world() {
  const streams: { heard: Heard; closed: boolean }[] = [];
  let now = 0;
  const due: { at: number; act: () => void }[] = [];
  const said: (number | string)[] = [];
  const following = follow(
    { position: (position) => said.push(position), still: () => said.push("still"), cut: () => said.push("cut") },
    {
      open: (heard) => {
        const stream = { heard, closed: false };
        streams.push(stream);
        return { close: () => (stream.closed = true) };
      },
      later: (act, ms) => {
        const one = { at: now + ms, act };
        due.push(one);
        return () => due.splice(0, due.length, ...due.filter((each) => each !== one));
      },
    },
  );
  const goOn = (ms: number): void => {
    const end = now + ms;
    for (;;) {
      const next = due.filter(({ at }) => at <= end).sort((a, b) => a.at - b.at)[0];
      if (next === undefined) break;
      due.splice(due.indexOf(next), 1);
      now = next.at;
      next.act();
    }
    now = end;
  };
  return { streams, said, following, goOn, last: () => streams.at(-1)?.heard };
}

test("positions are told as they come; what is none says that the server is there", () => {
  const { last, said } = world();
  for (const data of ['{"position": 3}', undefined, "", "{}", '{"position": "4"}', '{"position": 5.5}', '{"position": 6}']) last()?.word(data);
  expect(said).toEqual([3, "still", "still", "still", "still", "still", 6]);
  expect(positionOf("null")).toBeUndefined();
});

test("an event stream is read line by line: data, comments, blank lines", () => {
  // Lines as WHATWG HTML 9.2.5 gives them; the server's own are `data: {...}` and `: still here`.
  expect(wordsOf(['data: {"position": 7}', "", ": still here", "", "data:x"])).toEqual(['{"position": 7}', undefined, "x"]);
});

test("a cut is told once, closes the stream, and waits twice as long each time, at most 30 s", () => {
  const { streams, said, goOn, last } = world();
  for (const wait of [1000, 2000, 4000, 8000, 16000, 30000, 30000]) {
    last()?.end();
    const before = streams.length;
    goOn(wait - 1);
    expect(streams).toHaveLength(before);
    goOn(1);
    expect(streams).toHaveLength(before + 1);
  }
  expect(said).toEqual(Array.from({ length: 7 }, () => "cut"));
  expect(streams.map(({ closed }) => closed)).toEqual([true, true, true, true, true, true, true, false]);
});

test("a position makes the next wait short again", () => {
  const { streams, goOn, last } = world();
  last()?.end();
  goOn(1000);
  last()?.word('{"position": 9}');
  last()?.end();
  goOn(1000);
  expect(streams).toHaveLength(3);
});

test("a server that goes without a word is noticed, one that says it is there is not given up", () => {
  const { said, goOn, last } = world();
  for (let n = 0; n < 5; n += 1) {
    goOn(15_000);
    last()?.word(undefined);
  }
  expect(said).not.toContain("cut");
  goOn(SILENCE_MS);
  expect(said.at(-1)).toBe("cut");
});

test("a stream that never says anything is given up too", () => {
  const { said, goOn } = world();
  goOn(SILENCE_MS);
  expect(said).toEqual(["cut"]);
});

test("a late word of a stream that was given up changes nothing", () => {
  const { streams, said, goOn } = world();
  const first = streams[0]?.heard;
  first?.end();
  goOn(1000);
  first?.end();
  first?.word('{"position": 1}');
  expect(said).toEqual(["cut"]);
  expect(streams).toHaveLength(2);
});

test("asking now does not wait, and opens no second stream where one runs", () => {
  const { streams, following } = world();
  following.now();
  expect(streams).toHaveLength(1);
  following.lost();
  following.now();
  expect(streams).toHaveLength(2);
});

test("stopping closes the stream and opens none", () => {
  const { streams, said, following, goOn } = world();
  following.stop();
  goOn(100_000);
  expect(streams.map(({ closed }) => closed)).toEqual([true]);
  expect(said).toEqual([]);
});
