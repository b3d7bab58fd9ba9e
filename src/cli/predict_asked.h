/* What commands that predict are asked with, read the same way by each. */
#pragma once
#include "cli/command.h"
#include "desk/predict.h"

/* The text of a file, else of an engine of the book; g_free. NULL with *error. */
char *ew_call_engine_text(const struct ew_call *call, const char *what, GError **error);
/* A file, else an engine of the book. */
gboolean ew_call_engine(const struct ew_call *call, const char *what, struct ew_engine *engine,
                        GError **error);
/* --tune FILE or kept; the defaults without. The engine is the call's first argument. */
gboolean ew_call_tune(const struct ew_call *call, struct ew_tune *tune, GError **error);
/* --spark, --lambda, --pressure, --temperature, --humidity; NaN where not given. */
gboolean ew_call_prediction_air(const struct ew_call *call, struct ew_prediction_setup *setup,
                                GError **error);
