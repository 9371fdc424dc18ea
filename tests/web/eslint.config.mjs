// The page's scripts are modules; each ends in one list of what it gives.
import js from "@eslint/js";

const browser = [
  "AudioContext", "Blob", "Event", "Node", "Path2D", "ResizeObserver", "URL", "WebSocket",
  "addEventListener", "atob", "clearInterval", "document", "fetch", "getComputedStyle",
  "localStorage", "location", "matchMedia", "navigator", "performance", "queueMicrotask", "requestAnimationFrame",
  "setInterval", "setTimeout", "window",
];

export default [
  { ignores: ["**/vendor/**"] },
  js.configs.recommended,
  {
    files: ["**/*.js"],
    languageOptions: {
      ecmaVersion: 2022,
      sourceType: "module",
      globals: Object.fromEntries(browser.map((name) => [name, "readonly"])),
    },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      "complexity": ["error", 14],
      "consistent-return": "error",
      "curly": ["error", "multi-line"],
      "eqeqeq": "error",
      "max-lines": ["error", 400],
      "no-restricted-exports": ["error", { restrictDefaultExports: { direct: true } }],
      "no-shadow": "error",
      "no-unused-vars": ["error", { vars: "all" }],
      "no-var": "error",
      "no-restricted-properties": ["error",
        { property: "innerHTML", message: "text from a take must stay text" },
        { property: "outerHTML", message: "text from a take must stay text" },
        { property: "insertAdjacentHTML", message: "text from a take must stay text" },
      ],
      "no-restricted-syntax": ["error", {
        selector: "MemberExpression[object.name='document'][property.name=/^write/]",
        message: "text from a take must stay text",
      }],
      "no-eval": "error",
      "no-implied-eval": "error",
      "no-new-func": "error",
      "prefer-const": "error",
    },
  },
];
