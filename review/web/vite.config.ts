import { defineConfig, type Plugin } from "vite";

// OpenSeadragon 6.1 adds a style block to the page unless it finds its own there. Our
// Content-Security-Policy forbids it; here it is told that it is there. Fails when a later version does otherwise.
function withoutStyleBlock(): Plugin {
  const asks = "'style[data-openseadragon-mobile-css]'";
  return {
    name: "without-style-block",
    transform(code, id) {
      if (!id.endsWith("openseadragon.js")) return null;
      if (!code.includes(asks)) throw new Error("openseadragon no longer asks for " + asks);
      return { code: code.replace(asks, "'head'"), map: null };
    },
  };
}

// Fixed names: the built files are committed, and a hash in a name would hide
// what changed. No source maps, no module preload script (it would be inline).
export default defineConfig({
  plugins: [withoutStyleBlock()],
  base: "/assets/",
  publicDir: "public",
  build: {
    outDir: process.env.OUT_DIR ?? "../assets",
    emptyOutDir: true,
    assetsDir: "",
    assetsInlineLimit: 0,
    modulePreload: false,
    target: "es2022",
    chunkSizeWarningLimit: 1000,
    rollupOptions: {
      input: { index: "index.html", hide: "hide.html" },
      output: {
        entryFileNames: "[name].js",
        chunkFileNames: "[name].js",
        assetFileNames: "[name][extname]",
        manualChunks: (id) => (id.includes("openseadragon") ? "openseadragon" : undefined),
      },
    },
  },
});
