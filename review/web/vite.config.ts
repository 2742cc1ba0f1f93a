import { defineConfig } from "vite";

// Fixed names: the built files are committed, and a hash in a name would hide
// what changed. No source maps, no module preload script (it would be inline).
export default defineConfig({
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
