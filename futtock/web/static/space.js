// Hull, frames and timbers in space: wood in its wash, edges in ink, as on the drawings.
import * as three from "/static/vendor/scripts/three.min.js";

const box = document.getElementById("space");
const says = document.getElementById("space-says");
const picked = document.getElementById("picked");
const ink = new three.Color("#14212b");

function tell(words) { says.textContent = words; }

function start() {
  let renderer;
  try {
    renderer = new three.WebGLRenderer({ antialias: true });
  } catch {
    tell("This browser cannot draw in space; the drawings on the other pages say the same.");
    return;
  }
  tell("Fetching her.");
  const scene = new three.Scene();
  scene.background = new three.Color("#f5f8f5");
  scene.add(new three.AmbientLight(0xffffff, 1.9));
  const sun = new three.DirectionalLight(0xffffff, 1.4);
  sun.position.set(3, 8, 5);
  scene.add(sun);
  const eye = new three.PerspectiveCamera(35, 1, 0.05, 200);
  const turn = new three.OrbitControls(eye, renderer.domElement);
  const draw = () => renderer.render(scene, eye);
  const fit = () => {
    const { clientWidth: w, clientHeight: h } = box;
    renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    renderer.setSize(w, h);
    eye.aspect = w / h;
    eye.updateProjectionMatrix();
    draw();
  };
  turn.addEventListener("change", draw);
  new ResizeObserver(fit).observe(box);

  new three.GLTFLoader().load(box.dataset.src, (loaded) => {
    const wood = new three.MeshLambertMaterial({ color: "#ecdfc3", side: three.DoubleSide });
    const skin = new three.MeshLambertMaterial({ color: "#a9b7b2", side: three.DoubleSide, transparent: true, opacity: 0.28, depthWrite: false });
    const line = new three.LineBasicMaterial({ color: ink });
    const timbers = [];
    let hull = null;
    loaded.scene.traverse((node) => {
      if (!node.isMesh) return;
      const name = node.name + " " + (node.parent ? node.parent.name : "");
      if (/hull/i.test(name)) { node.material = skin; hull = node; node.renderOrder = 2; return; }
      node.material = wood;
      timbers.push(node);
      node.add(new three.LineSegments(new three.EdgesGeometry(node.geometry, 25), line));
    });
    scene.add(loaded.scene);
    const size = new three.Box3().setFromObject(loaded.scene);
    const middle = size.getCenter(new three.Vector3());
    turn.target.copy(middle);
    // as near as leaves all of her within the picture, whatever its shape
    const way = new three.Vector3(-0.45, 0.35, 0.75).normalize();
    eye.position.copy(middle).add(way);
    eye.lookAt(middle);
    eye.updateMatrix();
    const [across, above] = [0, 1].map((axis) => new three.Vector3().setFromMatrixColumn(eye.matrix, axis));
    const tall = Math.tan((eye.fov / 2) * Math.PI / 180), wide = tall * box.clientWidth / box.clientHeight;
    let far = 0;
    for (let k = 0; k < 8; k += 1) {
      const corner = new three.Vector3(k & 1 ? size.max.x : size.min.x, k & 2 ? size.max.y : size.min.y, k & 4 ? size.max.z : size.min.z).sub(middle);
      far = Math.max(far, corner.dot(way) + Math.max(Math.abs(corner.dot(across)) / wide, Math.abs(corner.dot(above)) / tall));
    }
    eye.position.copy(middle).add(way.multiplyScalar(far * 1.04));
    turn.update();
    says.remove();
    box.append(renderer.domElement);
    fit();

    const off = document.getElementById("hull-off");
    if (off && hull) off.addEventListener("click", () => {
      hull.visible = !hull.visible;
      off.textContent = hull.visible ? "Take the planking off" : "Put the planking on";
      draw();
    });
    const plain = new Map(timbers.map((node) => [node, wood]));
    const on = document.getElementById("wood-on");
    if (on) {
      on.hidden = false;
      on.addEventListener("click", () => {
        on.disabled = true;
        on.textContent = "Their wood is shown";
        dress(timbers, plain, draw).catch(() => {
          document.getElementById("wood-says").textContent = "The slabs could not be fetched. Load the page again.";
        });
      });
    }
    const ray = new three.Raycaster();
    let marked = null;
    renderer.domElement.addEventListener("click", (event) => {
      const at = renderer.domElement.getBoundingClientRect();
      ray.setFromCamera(new three.Vector2(((event.clientX - at.left) / at.width) * 2 - 1, 1 - ((event.clientY - at.top) / at.height) * 2), eye);
      const hit = ray.intersectObjects(timbers, false)[0];
      if (marked) marked.material = plain.get(marked);
      marked = hit ? hit.object : null;
      picked.textContent = "No timber is touched.";
      if (marked) {
        marked.material = new three.MeshLambertMaterial({ color: "#bfa676", side: three.DoubleSide });
        const name = mark(marked);
        const link = document.createElement("a");
        link.className = "mark";
        link.href = "/moulds/" + encodeURIComponent(name);
        link.textContent = name;
        picked.replaceChildren(link);
      }
      draw();
    });
    box.addEventListener("keydown", (event) => {
      const by = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] }[event.key];
      const near = { "+": 0.9, "=": 0.9, "-": 1.1 }[event.key];
      const from = eye.position.clone().sub(turn.target);
      if (by) {
        const flat = Math.hypot(from.x, from.z), long = from.length();
        const round = Math.atan2(from.x, from.z) + by[0];
        const up = Math.min(1.5, Math.max(-1.5, Math.atan2(from.y, flat) - by[1]));
        from.set(long * Math.cos(up) * Math.sin(round), long * Math.sin(up), long * Math.cos(up) * Math.cos(round));
      } else if (near) from.multiplyScalar(near);
      else return;
      event.preventDefault();
      eye.position.copy(turn.target).add(from);
      turn.update();
      draw();
    });
  }, undefined, () => tell("She could not be fetched. Load the page again."));
}

const mark = (node) => (node.name || node.parent.name).replace(/_\d+$/, "");

// The timbers come again with their slabs' pictures laid on them, each where it lies on its slab.
async function dress(timbers, plain, draw) {
  const says = document.getElementById("wood-says");
  says.textContent = "Fetching the slabs.";
  const placed = await new three.GLTFLoader().loadAsync("/space/vessel.glb?wood=true&frame=" + box.dataset.frame);
  const dressed = new Map(), slabs = new Set();
  placed.scene.traverse((node) => { if (node.isMesh && node.material.map) dressed.set(mark(node), node); });
  for (const node of timbers) {
    const found = dressed.get(mark(node));
    if (!found) continue;
    node.geometry = found.geometry;
    node.material = found.material;
    plain.set(node, found.material);
    slabs.add(found.material.name);
  }
  draw();
  says.textContent = dressed.size + (dressed.size === 1 ? " timber wears" : " timbers wear") + " the wood of " + slabs.size + (slabs.size === 1 ? " slab." : " slabs.");
}

start();
