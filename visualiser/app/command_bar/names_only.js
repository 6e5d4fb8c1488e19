// For a page that has fields for names and no bar.

import { watchNames } from "./typing.js";

export default function () {
  watchNames();
}
