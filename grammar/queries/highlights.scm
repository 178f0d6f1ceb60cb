; highlights
