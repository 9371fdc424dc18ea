"""What is to happen: strokes, the line each belongs to, and how far each should move."""
