// Asked before all else is loaded, so that the plots are there when the map is.
"use strict";
window.gladeFirst = ["/api/property", "/api/photo"].map(function (path) {
  return fetch(path).then(function (answer) {
    return answer.json().then(function (told) {
      if (!answer.ok) throw new Error(told.error);
      return told;
    });
  });
});
