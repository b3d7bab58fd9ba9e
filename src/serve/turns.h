/* Figures of an engine that one would turn to see what follows: sliders, and what it means to turn one.
 *
 * Which they are, how far and by what step is said by the engine's field table (turn_reach, turn_step,
 * turn_with). A list is turned as a whole, every item by the same amount. */
#pragma once
#include "base/json_writer.h"
#include "base/node.h"
#include "engine/engine.h"

/* The array "sliders" in an open object: one a figure that the engine has and that does something,
 * with its value in `now` and its ends about the value in `base`. */
void ew_turns_write_json(const struct ew_engine *base, const struct ew_engine *now,
                         struct ew_json *json);
/* Writes the turns into the fields as typed: a list of { "group": "breathing", "name":
 * "primary_length", "to": "760 mm" }; `to` may be a JSON number, inside. `turns` may be NULL. */
gboolean ew_turns_apply(struct ew_node *typed, const struct ew_node *turns,
                        enum ew_unit_system units, GError **error);
