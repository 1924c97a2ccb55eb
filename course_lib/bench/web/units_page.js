// The switch of units on a page of its own, above the steps of a worked case or the items of a lesson.

import { asking } from "./page.js";
import { unitsSwitch } from "./units.js";

export default asking("div", "worked-step worked-units", (page) => (units) => unitsSwitch(units, page.id, (system) => page.send({ system })));
