import tseslint from "typescript-eslint";

export default tseslint.config(
  { ignores: ["node_modules/"] },
  ...tseslint.configs.recommended,
  {
    files: ["**/*.ts"],
    rules: {
      "@typescript-eslint/no-explicit-any": "error",
      "@typescript-eslint/no-unused-vars": ["error", { argsIgnorePattern: "^_", varsIgnorePattern: "^_$" }],
      "@typescript-eslint/consistent-type-imports": "error",
      eqeqeq: "error",
      "max-len": ["error", { code: 120 }],
      "max-lines": ["error", 300],
      "max-lines-per-function": ["error", 60],
      "no-restricted-globals": ["error", "fetch", "XMLHttpRequest", "WebSocket", "localStorage"],
      "no-restricted-properties": [
        "error",
        { property: "innerHTML", message: "Text reaches the page through textContent alone." },
        { property: "outerHTML", message: "Text reaches the page through textContent alone." },
        { property: "insertAdjacentHTML", message: "Text reaches the page through textContent alone." },
      ],
    },
  },
);
