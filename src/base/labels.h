/* American or British labels: the words of the trade in which the two differ, once.
 *
 * The program's own texts are British. On screens and sheets each whole word of the table is put in
 * the other's word, its case kept. Keys, options, addresses and what somebody typed stay as they are:
 * a word after a character of EW_LABELS_NOT_AFTER or before one of EW_LABELS_NOT_BEFORE is part of such, and
 * is left, as is one within a longer word (letters and figures of any script). The page reads words and
 * rule from GET book; tests/unit/base/label_cases.txt holds both to the same answers. Plain usage of both
 * countries' dictionaries and of the trade (common practice, no source). */
#pragma once
#include <glib.h>

#define EW_LABELS_NOT_AFTER  "_-./'\""
#define EW_LABELS_NOT_BEFORE "_="

/* British, American. */
#define EW_LABEL_PAIRS(X)                                                                          \
  X("inlet", "intake")                                                                             \
  X("inlets", "intakes")                                                                           \
  X("centre", "center")                                                                            \
  X("centres", "centers")                                                                          \
  X("centreline", "centerline")                                                                    \
  X("centrelines", "centerlines")                                                                  \
  X("vapour", "vapor")                                                                             \
  X("carburettor", "carburetor")                                                                   \
  X("carburettors", "carburetors")                                                                 \
  X("petrol", "gasoline")                                                                          \
  X("aluminium", "aluminum")                                                                       \
  X("gudgeon pin", "wrist pin")                                                                    \
  X("silencer", "muffler")                                                                         \
  X("fuelling", "fueling")                                                                         \
  X("litre", "liter")                                                                              \
  X("litres", "liters")                                                                            \
  X("labelled", "labeled")                                                                         \
  X("cancelled", "canceled")                                                                       \
  X("neighbour", "neighbor")                                                                       \
  X("neighbours", "neighbors")                                                                     \
  X("colour", "color")

enum ew_labels { EW_LABELS_BRITISH, EW_LABELS_AMERICAN, EW_LABELS_COUNT };
/* "british", "american" */
extern const char *const ew_labels_names[EW_LABELS_COUNT];

struct ew_label_pair {
  const char *word[EW_LABELS_COUNT];
};
extern const struct ew_label_pair ew_label_pairs[];
extern const gsize ew_label_pairs_count;

/* NULL: the usual, British. FALSE: neither. */
gboolean ew_labels_find(const char *name, enum ew_labels *labels);
/* A new text with its words put so. */
char *ew_labels_put(const char *text, enum ew_labels labels);
