/* What ends a sweep whatever torque says: knock, something that was seen, a trip that nobody has looked at. Figures stay as they
 * are; only the choice is held back or goes. */
#include "base/message.h"
#include "judge/sweep_behind.h"
#include <math.h>

EW_MESSAGE(knock_word, "judge.knock", EW_NOTE, "knock");
EW_MESSAGE(seen_word, "judge.sweep-seen", EW_NOTE, "'{seen}'");
EW_MESSAGE(sign_at, "judge.sweep-sign", EW_DANGER, "stop: {sign} was noted at {setting}");
EW_MESSAGE(
    sign_reserve, "judge.sweep-sign-reserve", EW_DANGER,
    "stop: {sign} at {setting} deg; no more than {most} deg with a reserve of {reserve} deg");
EW_MESSAGE(look_at_trip, "judge.sweep-look", EW_DANGER, "stop and look: {reason}");

void ew_sweep_settle(struct ew_sweep *s, ew_message *reason) {
  g_assert(reason);
  ew_message_free(s->reason);
  s->reason = reason;
}

struct ew_argument ew_sweep_say_setting(const char *name, double setting,
                                        enum ew_sweep_setting of) {
  return ew_say_figure(name, setting, of == EW_SWEEP_SPARK ? 1 : 3);
}

/* Knock, or something that was seen, ends a sweep whatever torque says; the reserve is kept from the lowest sign. */
void ew_sweep_heed_signs(struct ew_sweep *s, const struct ew_sweep_pull *pulls, gsize n,
                         const struct ew_sweep_options *o) {
  double sign = INFINITY;
  g_autoptr(ew_message) what = NULL;
  for (gsize i = 0; i < n; i++) {
    gboolean knocked = pulls[i].knock >= 3, seen = pulls[i].seen && *pulls[i].seen;
    if ((knocked || seen) && pulls[i].setting < sign) {
      sign = pulls[i].setting;
      ew_message_free(what);
      what = seen ? ew_message(&seen_word, ew_say_text("seen", pulls[i].seen))
                  : ew_message_plain(&knock_word);
    }
  }
  if (!what || o->setting != EW_SWEEP_SPARK) {
    if (what) {
      s->ended = TRUE;
      ew_sweep_settle(s, ew_message(&sign_at, ew_say_message("sign", what),
                                    ew_sweep_say_setting("setting", sign, o->setting)));
    }
    return;
  }
  s->ended = TRUE;
  double most = sign - o->reserve;
  if (isnan(s->chosen) || s->chosen > most) {
    s->held_by_reserve = TRUE;
    s->chosen = most;
    s->chosen_loss = NAN;
    for (gsize j = 0; j < s->points; j++)
      if (fabs(s->setting[j] - most) < 0.3)
        s->chosen_loss = s->loss[j];
  }
  ew_sweep_settle(s, ew_message(&sign_reserve, ew_say_message("sign", what),
                                ew_say_figure("setting", sign, 1), ew_say_figure("most", most, 1),
                                ew_say_figure("reserve", o->reserve, 1)));
}

/* After a trip nothing is proposed before somebody looked: figures stay, the choice goes. */
void ew_sweep_heed_trip(struct ew_sweep *s, const struct ew_sweep_options *o) {
  if (!o->look_first)
    return;
  s->ended = TRUE;
  s->held_by_reserve = FALSE;
  s->chosen = s->chosen_loss = NAN;
  ew_sweep_settle(s, ew_message(&look_at_trip, ew_say_message("reason", o->look_first)));
}
