"""Charts for paper: the knowledge as a map, the questions as a tree, one cause on a page. A scene, then SVG or PDF."""
