"""The frozen values that the stages hand on: the language of the project."""
