// capability: photos
import { expect, test } from "vitest";
import { camerasHere, chooseCamera, chosenCamera, idOf } from "./photo-choice";
import { memoryOf } from "./photo-memory";

function store(): Pick<Storage, "getItem" | "setItem"> {
  const kept = new Map<string, string>();
  return { getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => void kept.set(key, value) };
}

const REAR = { id: "r", label: "rear" };
const SCOPE = { id: "m", label: "USB microscope" };

test("each tool has its own camera, and the tablet one for all others", () => {
  const kept = store();
  expect(chosenCamera("LB-B1", kept)).toBeUndefined();
  chooseCamera("", REAR, kept);
  chooseCamera("LB-B1", SCOPE, kept);
  expect(chosenCamera("LB-B1", kept)).toEqual(SCOPE);
  expect(chosenCamera("LB-B2", kept)).toEqual(REAR);
  kept.setItem("loupebook.cameras", "not JSON");
  expect(chosenCamera("LB-B1", kept)).toBeUndefined();
});

test("a camera is known by its id, and by a name that no other has when the browser gave it a new id", () => {
  expect(idOf(SCOPE, [REAR, SCOPE])).toBe("m");
  expect(idOf(SCOPE, [REAR, { ...SCOPE, id: "new" }])).toBe("new");
  expect(idOf(SCOPE, [{ ...SCOPE, id: "a" }, { ...SCOPE, id: "b" }])).toBeUndefined();
  expect(idOf({ id: "m", label: "" }, [{ id: "x", label: "" }])).toBeUndefined();
  expect(idOf(undefined, [REAR])).toBeUndefined();
});

test("only cameras are listed, and none where the browser hides them", async () => {
  const devices = [{ kind: "audioinput", deviceId: "a", label: "x" }, { kind: "videoinput", deviceId: "m", label: "USB microscope" }];
  expect(await camerasHere({ enumerateDevices: () => Promise.resolve(devices as MediaDeviceInfo[]) })).toEqual([SCOPE]);
  expect(await camerasHere({ enumerateDevices: () => Promise.reject(new Error()) })).toEqual([]);
});

test("what a camera can do is its upper tenth, the veil it usually has its lower quarter, from twenty seconds on, and is there again later", () => {
  const kept = store();
  let at = 0;
  const memory = memoryOf("m", "LB-B1", kept, () => at);
  for (let value = 1; value <= 19; value += 1) {
    at += 1_000;
    memory.note(300 + value, 100 + value);
  }
  expect(memory.best()).toBe(0);
  memory.note(900, 900); // within the same second: not taken in
  expect(memory.best()).toBe(0);
  at += 1_000;
  memory.note(900, 900);
  expect(memory.best()).toBe(318);
  expect(memory.veil()).toBe(105); // its lower quarter
  expect(memoryOf("m", "LB-B1", kept, () => at).best()).toBe(318);
  expect(memoryOf("m", "LB-B2", kept, () => at).best()).toBe(0);
  expect(memoryOf("m", "LB-B1", { getItem: () => "{", setItem: () => undefined }, () => at).best()).toBe(0);
});
