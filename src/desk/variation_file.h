/* Changes written into an engine's file, so that a variant can be opened, checked and predicted as an engine of its own. */
#pragma once
#include "base/node.h"
#include "desk/variation.h"

/* Makes each change (struct ew_variation) to the engine itself: a ratio by its chambers, centrelines and advance in `cam`. Refuses
 * what an engine's file does not say (spark, altitude, air temperature, the octane number of the knock integral), and an engine
 * that contradicts itself afterwards; the engine is then as it was. */
gboolean ew_vary_engine(struct ew_engine *engine, const GArray *variations, GError **error);
/* The file's text with the engine's figures in place of those that stood there, where they are others; the rest of it, remarks too, stays as it
 * is. NULL when the text is not an engine's. g_free. */
char *ew_engine_rewrite(const char *text, const struct ew_engine *engine, GError **error);
/* The same of what was read already. ew_node_free. */
struct ew_node *ew_engine_reworded(const struct ew_node *said, const struct ew_engine *engine,
                                   GError **error);
