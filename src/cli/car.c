/* car new, car worth: what measured pulls are worth in the car. */
#include "base/words.h"
#include "cli/question_call.h"
#include "desk/car.h"
#include <math.h>
#include <stdio.h>

#define MPH    0.44704 /* exactly: 1609.344 m in 3600 s */
#define FOOT_M 0.3048  /* exactly */
#define POINTS 60      /* of a tractive curve, in JSON */

static const struct ew_option_spec no_options[] = {{NULL, NULL, NULL, FALSE}};

static gboolean run_new(const struct ew_call *call, GError **error) {
  (void)call, (void)error;
  g_autofree char *text = ew_fields_template(&ew_car_fields);
  fputs(text, stdout);
  return TRUE;
}
const struct ew_command ew_command_car_new = {
    .name = "car new",
    .prints_text = TRUE,
    .summary = EW_TEXT("A commented file of a car to start from"),
    .takes = "",
    .options = no_options,
    .run = run_new,
    .examples = "car new > car.yaml"};

/* ---- what is asked ---- */

struct asked {
  struct ew_car car;
  struct ew_car_run run;
  double limit_rpm;
};

static gboolean in_range(const char *option, double value, double low, double high,
                         const char *write, GError **error) {
  return (value >= low && value <= high) ||
         ew_refuse(error, "--%s: out of range; write %s", option, write);
}

static gboolean read_asked(const struct ew_call *call, struct asked *a, GError **error) {
  const char *path = ew_call_argument(call, 0);
  struct ew_node *root = ew_node_read(path, error);
  gboolean good = root && ew_car_read(root, path, &a->car, error);
  ew_node_free(root);
  if (!good)
    return FALSE;
  good = ew_call_quantity(call, "limit", EW_KIND_ROTATIONAL_SPEED, NAN, &a->limit_rpm, error) &&
         ew_call_quantity(call, "grade", EW_KIND_RATIO, 0, &a->run.grade, error) &&
         ew_call_quantity(call, "to", EW_KIND_SPEED, 100 / 3.6, &a->run.to_speed_m_s, error) &&
         ew_call_quantity(call, "distance", EW_KIND_LENGTH, 100, &a->run.to_distance_m, error) &&
         in_range("grade", a->run.grade, -0.3, 0.5, "-30 % to 50 %", error) &&
         in_range("to", a->run.to_speed_m_s, 1, 200, "4 km/h to 720 km/h", error) &&
         in_range("distance", a->run.to_distance_m, 1, 5000, "1 m to 5000 m", error);
  if (!good)
    ew_car_clear(&a->car);
  return good;
}

/* ---- what is said ---- */

/* "58 km/h", "36 mph" */
static char *road_speed(double speed_m_s, enum ew_unit_system units) {
  return units == EW_UNITS_US ? ew_words("%.0f mph", speed_m_s / MPH)
                              : ew_words("%.0f km/h", speed_m_s * 3.6);
}

/* "100 m", "328 ft" */
static char *road_length(double length_m, enum ew_unit_system units) {
  return units == EW_UNITS_US ? ew_words("%.0f ft", length_m / FOOT_M)
                              : ew_words("%.0f m", length_m);
}

static char *seconds(double time_s, double expanded_s) {
  if (isnan(time_s))
    return g_strdup(ew_tr(EW_TEXT("not reached")));
  return isnan(expanded_s) ? ew_words("%.2f s, uncertainty not known", time_s)
                           : ew_words("%.2f ± %.2f s", time_s, expanded_s);
}

static void say_gears(const struct asked *a, const struct ew_car_mean *mean,
                      enum ew_unit_system units) {
  for (guint gear = 0; gear < a->car.gears->len; gear++) {
    double rpm = ew_car_shift_rpm(&a->car, &mean->engine, gear);
    double speed = ew_car_speed_m_s(&a->car, gear, rpm);
    g_autofree char *road = road_speed(speed, units);
    g_autofree char *force = ew_quantity_format(
        EW_KIND_FORCE, units, ew_car_force_n(&a->car, &mean->engine, gear, speed), 0);
    gboolean last = gear + 1 == a->car.gears->len;
    if (last)
      ew_say("gear %u: ends at %.0f rpm, %s, with %s at the wheels", gear + 1, rpm, road, force);
    else
      ew_say(rpm < mean->engine.limit_rpm
                 ? EW_TEXT("gear %u: shift at %.0f rpm, %s, with %s at the wheels: the next pulls "
                           "as hard there")
                 : EW_TEXT("gear %u: shift at the limit of %.0f rpm, %s, with %s at the wheels: "
                           "the next pulls less hard"),
             gear + 1, rpm, road, force);
  }
}

/* The largest three contributions to the time to the speed, or to the distance where that is not reached. */
static void say_doubts(const struct ew_car_worth *w) {
  static const char *const words[EW_CAR_DOUBTS] = {
      EW_TEXT("torque"),     EW_TEXT("mass"), EW_TEXT("drag area"),  EW_TEXT("rolling resistance"),
      EW_TEXT("efficiency"), EW_TEXT("grip"), EW_TEXT("tyre radius")};
  const double *of = isnan(w->at.speed_time_s) ? w->distance_time_s : w->speed_time_s;
  gboolean told[EW_CAR_DOUBTS] = {FALSE};
  g_autoptr(GString) line = g_string_new(NULL);
  for (int k = 0; k < 3; k++) {
    int most = -1;
    for (int i = 0; i < EW_CAR_DOUBTS; i++)
      if (!told[i] && !isnan(of[i]) && (most < 0 || fabs(of[i]) > fabs(of[most])))
        most = i;
    if (most < 0 || fabs(of[most]) < 0.0005)
      break;
    told[most] = TRUE;
    g_autofree char *one = ew_words("%s %.2f s", ew_tr(words[most]), fabs(of[most]));
    g_string_append_printf(line, "%s%s", line->len ? ", " : "", one);
  }
  if (line->len)
    ew_say("most of the uncertainty (one standard uncertainty each): %s", line->str);
}

static void say_use(const struct ew_car_result *r) {
  g_autoptr(GString) line = g_string_new(NULL);
  for (int i = 0; i < EW_CAR_SHARES; i++)
    if (r->share[i] >= 0.005) {
      g_autofree char *one =
          ew_words("%d to %d rpm %.0f %%", 500 * i, 500 * (i + 1), 100 * r->share[i]);
      g_string_append_printf(line, "%s%s", line->len ? ", " : "", one);
    }
  ew_say("time under power: %s", line->str);
}

static void say_worth(const struct asked *a, const struct ew_car_mean *mean,
                      const struct ew_car_worth *w, enum ew_unit_system units) {
  g_autofree char *to = road_speed(a->run.to_speed_m_s, units);
  g_autofree char *far = road_length(a->run.to_distance_m, units);
  g_autofree char *speed_time = seconds(w->at.speed_time_s, w->speed_expanded_s),
                  *distance_time = seconds(w->at.distance_time_s, w->distance_expanded_s),
                  *there = road_speed(w->at.distance_speed_m_s, units),
                  *top = road_speed(w->at.top_m_s, units);
  say_gears(a, mean, units);
  ew_say("0 to %s: %s", to, speed_time);
  if (isnan(w->at.distance_time_s))
    ew_say("%s from rest: %s", far, distance_time);
  else
    ew_say("%s from rest: %s, then at %s", far, distance_time, there);
  ew_say("top speed: %s", top);
  say_doubts(w);
  say_use(&w->at);
  if (!mean->inertia_known)
    ew_say("caution: the engine's inertia is not in its record and is left out: the low gears "
           "come out too quick");
  ew_say("an estimate: tyre slip, load that moves to the rear, wind and the driver are left out");
}

static void say_difference(const struct asked *a, const struct ew_car_difference *d,
                           const struct ew_comparison *c, enum ew_unit_system units) {
  g_autofree char *to = road_speed(a->run.to_speed_m_s, units);
  g_autofree char *far = road_length(a->run.to_distance_m, units);
  g_autofree char *says = ew_comparison_line(c);
  ew_say("against the others: 0 to %s %+.3f ± %.3f s, %s from rest %+.3f ± %.3f s", to,
         d->speed_time_s, d->speed_expanded_s, far, d->distance_time_s, d->distance_expanded_s);
  ew_say("torque: %s", says);
}

/* ---- the same in JSON ---- */

static void write_gear(const struct asked *a, const struct ew_car_mean *mean, guint gear,
                       struct ew_json *json) {
  double speed[POINTS], force[POINTS], low = mean->engine.speed_rpm[0],
                                       high = mean->engine.limit_rpm;
  for (int i = 0; i < POINTS; i++) {
    speed[i] = ew_car_speed_m_s(&a->car, gear, low + (high - low) * i / (POINTS - 1));
    force[i] = ew_car_force_n(&a->car, &mean->engine, gear, speed[i]);
  }
  ew_json_open(json, NULL);
  ew_json_number(json, "ratio", g_array_index(a->car.gears, double, gear));
  ew_json_number(json, "shift_rpm", ew_car_shift_rpm(&a->car, &mean->engine, gear));
  ew_json_numbers(json, "speed_m_s", speed, POINTS);
  ew_json_numbers(json, "force_n", force, POINTS);
  ew_json_close(json);
}

static void write_worth(const struct asked *a, const struct ew_car_mean *mean,
                        const struct ew_car_worth *w, struct ew_json *json) {
  ew_json_text(json, "car", a->car.name);
  ew_json_open_array(json, "gears");
  for (guint gear = 0; gear < a->car.gears->len; gear++)
    write_gear(a, mean, gear, json);
  ew_json_close_array(json);
  ew_json_number(json, "grip_n", ew_car_grip_n(&a->car));
  ew_json_number(json, "grade", a->run.grade);
  ew_json_number(json, "to_speed_m_s", a->run.to_speed_m_s);
  ew_json_number(json, "speed_time_s", w->at.speed_time_s);
  ew_json_number(json, "speed_expanded_s", w->speed_expanded_s);
  ew_json_number(json, "to_distance_m", a->run.to_distance_m);
  ew_json_number(json, "distance_time_s", w->at.distance_time_s);
  ew_json_number(json, "distance_expanded_s", w->distance_expanded_s);
  ew_json_number(json, "distance_speed_m_s", w->at.distance_speed_m_s);
  ew_json_number(json, "top_m_s", w->at.top_m_s);
  ew_json_open(json, "contributions_s");
  for (int i = 0; i < EW_CAR_DOUBTS; i++)
    ew_json_number(json, ew_car_doubt_keys[i], w->speed_time_s[i]);
  ew_json_close(json);
  ew_json_numbers(json, "shares_of_500_rpm", w->at.share, EW_CAR_SHARES);
  ew_json_boolean(json, "engine_inertia_known", mean->inertia_known);
}

static void write_difference(const struct ew_car_difference *d, const struct ew_comparison *c,
                             struct ew_json *json) {
  ew_json_open(json, "difference");
  ew_json_number(json, "speed_time_s", d->speed_time_s);
  ew_json_number(json, "speed_expanded_s", d->speed_expanded_s);
  ew_json_number(json, "distance_time_s", d->distance_time_s);
  ew_json_number(json, "distance_expanded_s", d->distance_expanded_s);
  ew_json_open(json, "comparison");
  ew_comparison_write_json(c, json);
  ew_json_close(json);
  ew_json_close(json);
}

/* ---- car worth ---- */

static void tell(const struct ew_call *call, const struct asked *a, const struct ew_car_mean *mean,
                 const struct ew_car_difference *d, const struct ew_comparison *c) {
  struct ew_car_worth w;
  ew_car_worth(&a->car, &mean->engine, mean->doubt, &a->run, &w);
  if (!call->json) {
    say_worth(a, mean, &w, call->units);
    if (c)
      say_difference(a, d, c, call->units);
    return;
  }
  struct ew_json json = ew_answer_begin();
  write_worth(a, mean, &w, &json);
  if (c)
    write_difference(d, c, &json);
  ew_answer_end(&json);
}

static gboolean worth_against(const struct ew_call *call, const struct asked *a,
                              struct ew_desk *desk, const struct ew_sides *sides,
                              const struct ew_car_mean *mean, GError **error) {
  struct ew_car_mean other;
  struct ew_car_difference d;
  struct ew_comparison *c = NULL;
  if (!ew_desk_car_mean(desk, sides->a, a->limit_rpm, &other, error))
    return FALSE;
  gboolean good = ew_desk_car_difference(desk, &a->car, sides->a, &other, sides->b, mean, &a->run,
                                         &d, &c, error);
  if (good)
    tell(call, a, mean, &d, c);
  ew_comparison_free(c);
  ew_car_mean_clear(&other);
  return good;
}

static gboolean worth_of(const struct ew_call *call, const struct asked *a, struct ew_desk *desk,
                         const struct ew_sides *sides, GError **error) {
  struct ew_car_mean mean;
  if (!sides->b->len)
    return ew_refuse(error, "--pulls: not given; name pulls or files, such as --pulls 12 13");
  if (!ew_desk_car_mean(desk, sides->b, a->limit_rpm, &mean, error))
    return FALSE;
  gboolean good = TRUE;
  if (sides->a->len)
    good = worth_against(call, a, desk, sides, &mean, error);
  else
    tell(call, a, &mean, NULL, NULL);
  ew_car_mean_clear(&mean);
  return good;
}

static gboolean run_worth(const struct ew_call *call, GError **error) {
  struct asked a = {0};
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = NULL;
  if (!read_asked(call, &a, error))
    return FALSE;
  struct ew_sides sides = ew_sides_new();
  gboolean good = ew_call_open_desk(call, &book, &desk, error) &&
                  ew_call_load_list(call, "pulls", &desk, sides.b, error) &&
                  ew_call_load_list(call, "against", &desk, sides.a, error) &&
                  worth_of(call, &a, &desk, &sides, error);
  ew_sides_free(&sides);
  ew_desk_clear(&desk);
  ew_car_clear(&a.car);
  return good;
}
static const struct ew_option_spec worth_options[] = {
    EW_DESK_OPTIONS,
    {"pulls", EW_TEXT("PULL|FILE"), EW_TEXT("ids or files of like pulls: their mean is driven"),
     TRUE},
    {"against", EW_TEXT("PULL|FILE"),
     EW_TEXT("the same of those before: what the difference is worth"), TRUE},
    {"limit", "Q", EW_TEXT("engine speed not to be passed; where the pulls end if left out"),
     FALSE},
    {"to", "Q", EW_TEXT("time from rest to this speed (100 km/h)"), FALSE},
    {"distance", "Q", EW_TEXT("time from rest over this distance (100 m)"), FALSE},
    {"grade", "Q", EW_TEXT("rise of the road, for a hill climb (0 %)"), FALSE},
    {NULL, NULL, NULL, FALSE},
};
const struct ew_command ew_command_car_worth = {
    .name = "car worth",
    .summary = EW_TEXT(
        "Pulls in the car: shift speeds, force at the wheels, times from rest, and their doubt"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = worth_options,
    .run = run_worth,
    .examples =
        "car worth car.yaml --pulls 34 35\n"
        "car worth car.yaml --pulls 34 35 --against 10 11 --grade \"9 %\" --distance \"400 m\"",
    .more = EW_TEXT(
        "FILE is the car's ('car new'). An estimate by Newton's law from the mean of the pulls; ± "
        "is "
        "the expanded\nuncertainty (95 %), from the torque's and from what the file says of mass, "
        "drag, grip and the rest. With\n--against what is doubted of the car moves both sides, and "
        "of the torque only the difference is doubted,\nas 'compare' says.")};
