/* A model for the cycle simulation from the combination file.
 *
 * What the file gives is used; what it leaves out is taken by rule, and every such assumption is one
 * message in `notes`, so that a prediction can say what it stands on. */
#pragma once
#include "cycle/head_kind.h"
#include "cycle/model.h"
#include "engine/engine.h"

/* A figure that the file left out, by the name that the file would give it, and what was taken. */
struct ew_cycle_assumed {
  char field[40];
  double value;
};

struct ew_cycle_build {
  struct ew_cycle_model model; /* points into this struct; never copy it out */
  GPtrArray *notes;            /* of ew_message *: what was assumed */
  GPtrArray *memory;           /* what the model points to */
  GArray *assumed;             /* of struct ew_cycle_assumed: figures among the notes */
  const struct ew_head_traits *head;
  gboolean flow_assumed; /* a side at least has no flow table of its own */
};

/* NULL with an error when the file gives too little or cannot be run: two-stroke, no bore, no cam, no
 * compression, unknown fuel, or a model that ew_cycle_model_check refuses. */
struct ew_cycle_build *ew_cycle_from_engine(const struct ew_engine *engine, GError **error);
void ew_cycle_build_free(struct ew_cycle_build *build);
