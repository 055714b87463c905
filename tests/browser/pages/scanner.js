// A page for tests only: the product's readers, with what they tell kept where a test can see it.
import { CameraRefused, openCodeCamera } from "../../../frontend/src/capture/camera-codes";
import { scanner } from "../../../frontend/src/capture/scan";
import { listenToWedge } from "../../../frontend/src/capture/wedge";
import { keyOf } from "../../../frontend/src/rules/codes";

const told = { codes: [], keys: [], hints: [], troubles: [], wedge: [], commands: [], inputs: [], clicks: 0 };
let camera = null;

async function openCamera() {
  const events = {
    onCode: (code) => {
      told.codes.push(code);
      told.keys.push(keyOf(code));
    },
    onHint: (hint) => told.hints.push(hint),
    onTrouble: (trouble) => told.troubles.push(trouble),
  };
  try {
    camera = await openCodeCamera(document.querySelector("#video"), events);
    return "open";
  } catch (refused) {
    return refused instanceof CameraRefused ? refused.why : String(refused);
  }
}

function closeCamera() {
  const [track] = camera.camera.stream.getTracks();
  camera.close();
  return { track: track.readyState, shown: document.querySelector("#video").srcObject !== null };
}

async function readImage(address, effort) {
  const picture = await createImageBitmap(await (await fetch(address)).blob());
  return scanner().read(picture, effort);
}

listenToWedge(window, (text) => told.wedge.push(text), { onCommand: (command) => told.commands.push(command) });
document.querySelector("#field").addEventListener("input", (event) => told.inputs.push(event.target.value));
document.querySelector("#button").addEventListener("click", () => {
  told.clicks += 1;
});
Object.assign(window, { readers: { told, openCamera, closeCamera, readImage } });
