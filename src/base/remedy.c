/* The table of remedies: a key and two wordings each. */
#include "base/remedy.h"
#include "base/language.h"
#include <glib.h>

static const struct {
  const char *key, *text[2]; /* by enum ew_place */
} remedies[] = {{NULL, {NULL, NULL}},
#define X(id, key, command_line, page) {key, {command_line, page}},
                EW_REMEDIES(X)
#undef X
};
_Static_assert(G_N_ELEMENTS(remedies) == EW_REMEDIES_COUNT, "one row for each remedy");

const char *ew_remedy_key(enum ew_remedy remedy) {
  g_assert(remedy < EW_REMEDIES_COUNT);
  return remedies[remedy].key;
}

const char *ew_remedy_at(enum ew_remedy remedy, enum ew_place place) {
  g_assert(remedy < EW_REMEDIES_COUNT);
  g_assert((gsize)place < G_N_ELEMENTS(remedies[remedy].text));
  const char *text = remedies[remedy].text[place];
  return text ? ew_tr(text) : NULL;
}
