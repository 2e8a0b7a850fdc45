// What the 3-D view takes from three: the entry that is bundled at build time (bundle.sh). Nothing
// else of the screens depends on it.
export { AmbientLight, BufferAttribute, BufferGeometry, CanvasTexture, Color, DirectionalLight, DoubleSide, Group,
  LineBasicMaterial, LineSegments, Mesh, MeshBasicMaterial, MeshLambertMaterial, PerspectiveCamera, RepeatWrapping,
  Scene, Sprite, SpriteMaterial, SRGBColorSpace, Vector3, WebGLRenderer } from "three";
