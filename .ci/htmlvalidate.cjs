// The rules by which html-validate judges the web page of a study. All it recommends,
// but for those switched off here with the reason.
module.exports = {
  root: true,
  extends: ["html-validate:recommended", "html-validate:document", "html-validate:a11y"],
  rules: {
    // The title of the page is the user's names of study and product, whatever their length.
    "long-title": "off",
  },
};
