"""How figures and days are written in each language, where Django's own way is not ours."""
