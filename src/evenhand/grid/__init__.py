"""Where hits could belong: the lines of a grid."""
