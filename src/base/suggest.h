/* "Did you mean": the nearest word of a list. */
#pragma once
#include <glib.h>

/* Edits (insert, delete, replace, swap of neighbours) between two words, letters compared without case. */
guint ew_edit_distance(const char *a, const char *b);

/* The nearest of `words` (count of them), or NULL when none is near enough to be meant. */
const char *ew_suggest(const char *word, const char *const *words, gsize count);
