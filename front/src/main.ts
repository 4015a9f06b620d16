/** Registers the components. The mesh view is large and comes only where a page shows a mesh. */
import "./style.css";
import "./photo-marks";
import "./time-line";

if (document.querySelector("mesh-view")) void import("./mesh-view");
