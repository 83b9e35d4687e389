/**
 * The paddle as a solid, to be turned about: `<canvas data-solid="address of a GLB">`. Drawn
 * anew only when something moves. Arrow keys turn it, + and - bring it nearer or farther.
 */
import {
  AmbientLight, Box3, DirectionalLight, Object3D, PerspectiveCamera, Scene, Spherical, Vector3,
  WebGLRenderer,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
import { made } from "./page";

const TURN = Math.PI / 24; // of one press of an arrow key
const NEARER = 0.9;
const ALONG = new Vector3(0.25, 0.55, 1).normalize(); // from where it is first looked at
const LAMP = new Vector3(-2, 3, 0); // from the eye: over the left shoulder

const taken = new WeakSet<HTMLCanvasElement>();

/** Draw the solids of the canvases below `root`. */
export function takeCanvases(root: ParentNode): void {
  for (const canvas of root.querySelectorAll<HTMLCanvasElement>("canvas[data-solid]")) {
    if (taken.has(canvas)) continue;
    taken.add(canvas);
    void draw(canvas).catch(() => giveUp(canvas));
  }
}

function giveUp(canvas: HTMLCanvasElement): void {
  const words = "This browser can't draw the solid here. The files to download show the same.";
  canvas.hidden = true;
  canvas.after(made("p", words, { role: "status" }));
}

async function draw(canvas: HTMLCanvasElement): Promise<void> {
  const renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true });
  const { scene: solid } = await new GLTFLoader().loadAsync(canvas.dataset["solid"]!);
  const scene = new Scene().add(solid, new AmbientLight(0xffffff, 0.5));
  const light = new DirectionalLight(0xffffff, 2.8);
  const camera = new PerspectiveCamera(30, 1, 0.01, 100);
  scene.add(light);
  const controls = new OrbitControls(camera, canvas);
  canvas.style.touchAction = "pan-y"; // a finger that goes up or down scrolls the page
  const paint = (): void => {
    light.position.copy(camera.localToWorld(LAMP.clone()));
    renderer.render(scene, camera);
  };
  const fit = (): void => {
    setSize(renderer, camera, canvas);
    paint();
  };
  setSize(renderer, camera, canvas);
  frame(solid, camera, controls);
  controls.addEventListener("change", paint);
  new ResizeObserver(fit).observe(canvas);
  listenToKeys(canvas, camera, controls);
  fit();
  canvas.dataset["drawn"] = "";
}

function setSize(
  renderer: WebGLRenderer, camera: PerspectiveCamera, canvas: HTMLCanvasElement,
): void {
  const [width, height] = [canvas.clientWidth || 300, canvas.clientHeight || 150];
  renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
  renderer.setSize(width, height, false); // the page's style rules its size
  camera.aspect = width / height;
  camera.updateProjectionMatrix();
}

/** Look at the whole of it. */
function frame(solid: Object3D, camera: PerspectiveCamera, controls: OrbitControls): void {
  const box = new Box3().setFromObject(solid);
  const [middle, size] = [box.getCenter(new Vector3()), box.getSize(new Vector3())];
  const half = Math.tan(camera.fov * Math.PI / 360);
  const distance = Math.max(size.x / camera.aspect, size.y, size.z) / (2 * half) * 1.15;
  camera.position.copy(middle).addScaledVector(ALONG, distance);
  camera.near = distance / 100;
  camera.far = distance * 10;
  camera.updateProjectionMatrix();
  controls.target.copy(middle);
  controls.minDistance = distance / 20;
  controls.maxDistance = distance * 3;
  controls.update();
}

function listenToKeys(
  canvas: HTMLCanvasElement, camera: PerspectiveCamera, controls: OrbitControls,
): void {
  canvas.tabIndex = 0;
  const turns: Record<string, (place: Spherical) => void> = {
    ArrowLeft: (place) => { place.theta -= TURN; },
    ArrowRight: (place) => { place.theta += TURN; },
    ArrowUp: (place) => { place.phi -= TURN; },
    ArrowDown: (place) => { place.phi += TURN; },
    "+": (place) => { place.radius *= NEARER; },
    "-": (place) => { place.radius /= NEARER; },
  };
  canvas.addEventListener("keydown", (event) => {
    const turn = turns[event.key];
    if (!turn || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const place = new Spherical().setFromVector3(camera.position.clone().sub(controls.target));
    turn(place);
    camera.position.setFromSpherical(place.makeSafe()).add(controls.target);
    controls.update();
  });
}
