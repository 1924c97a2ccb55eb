// The switch between workshop and metric units, the same on every page. `chosen` is called with the id of a system.

import { choiceGroup } from "./controls.js";

export const unitsSwitch = (units, name, chosen) => choiceGroup("radio", `${name}-units`, {
  traits: { class: "units" },
  legend: units.label,
  choices: units.options,
  of: (id) => ({ checked: units.value === id, onchange: () => chosen(id) }),
});
