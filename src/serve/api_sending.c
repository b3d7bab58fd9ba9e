/* Does what is written here reach the shop? What waits is counted in the book; what the shop answered last is known to who sends. */
#include "book/ship.h"
#include "serve/serve.h"
#include "serve/service.h"

static const char *state_of(const struct ew_ship_state *state, enum ew_serve_sending last) {
  if (!state->address)
    return "alone";
  if (g_strcmp0(state->role, "sends") != 0)
    return "copy";
  switch (last) {
  case EW_SENDING_NOT_ASKED: return "starting";
  case EW_SENDING_ALL_THERE: return state->last > state->shipped ? "behind" : "sent";
  case EW_SENDING_NO_ANSWER: return "no_answer";
  case EW_SENDING_REFUSED: return "refused";
  }
  g_assert_not_reached();
}

gboolean ew_api_sending(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  struct ew_ship_state state;
  g_autofree char *trouble = NULL;
  (void)r;
  if (!ew_ship_state(s->book, &state, error))
    return FALSE;
  enum ew_serve_sending last = s->options->sending
                                   ? s->options->sending(&trouble, s->options->sending_user)
                                   : EW_SENDING_NOT_ASKED;
  struct ew_json *json = &reply->json;
  ew_json_text(json, "state", state_of(&state, last));
  ew_json_text(json, "shop", state.address);
  gboolean sends = g_strcmp0(state.role, "sends") == 0;
  ew_json_integer(json, "waiting", sends ? MAX(state.last - state.shipped, 0) : 0);
  ew_json_text(json, "reached_at", state.shipped_at);
  ew_json_number(json, "clock_s", state.clock_s);
  ew_json_text(json, "trouble", trouble);
  ew_ship_state_clear(&state);
  return TRUE;
}
