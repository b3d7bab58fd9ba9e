/* Headings as loggers and spreadsheets write them: common practice, no source. */
#include "pull/channel.h"
#include "unit.h"

#define NONE EW_CHANNELS_COUNT
static const struct {
  const char *heading;
  enum ew_channel channel;
  int index;
} headings[] = {
    {"Time", EW_CHANNEL_TIME, 0},
    {"time_s", EW_CHANNEL_TIME, 0},
    {"Timestamp", EW_CHANNEL_TIME, 0},
    {"Elapsed Time", EW_CHANNEL_TIME, 0},
    {"Date/Time", EW_CHANNEL_TIME, 0},
    {"t", EW_CHANNEL_TIME, 0},
    {"Zeit", EW_CHANNEL_TIME, 0},
    {"RPM", EW_CHANNEL_SPEED, 0},
    {"rpm", EW_CHANNEL_SPEED, 0},
    {"Engine Speed", EW_CHANNEL_SPEED, 0},
    {"engine_speed_rpm", EW_CHANNEL_SPEED, 0},
    {"EngineSpeed", EW_CHANNEL_SPEED, 0},
    {"Engine RPM", EW_CHANNEL_SPEED, 0},
    {"Speed", EW_CHANNEL_SPEED, 0},
    {"n_engine", EW_CHANNEL_SPEED, 0},
    {"Drehzahl", EW_CHANNEL_SPEED, 0},
    {"Dyno RPM", EW_CHANNEL_SPEED_2, 0},
    {"Absorber Speed", EW_CHANNEL_SPEED_2, 0},
    {"Torque", EW_CHANNEL_TORQUE, 0},
    {"Torque_Nm", EW_CHANNEL_TORQUE, 0},
    {"Brake Torque", EW_CHANNEL_TORQUE, 0},
    {"TQ", EW_CHANNEL_TORQUE, 0},
    {"Drehmoment", EW_CHANNEL_TORQUE, 0},
    {"Öldruck", EW_CHANNEL_OIL_PRESSURE, 0},
    {"öltemperatur", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Wassertemperatur", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Luftdruck", EW_CHANNEL_BAROMETER, 0},
    {"Luftfeuchte", EW_CHANNEL_HUMIDITY, 0},
    {"Engine Torque (lb-ft)", EW_CHANNEL_TORQUE, 0},
    {"Power", EW_CHANNEL_POWER, 0},
    {"HP", EW_CHANNEL_POWER, 0},
    {"TPS", EW_CHANNEL_THROTTLE, 0},
    {"Throttle", EW_CHANNEL_THROTTLE, 0},
    {"Throttle Position", EW_CHANNEL_THROTTLE, 0},
    {"throttle_pct", EW_CHANNEL_THROTTLE, 0},
    {"MAP", EW_CHANNEL_MANIFOLD_PRESSURE, 0},
    {"Manifold Pressure", EW_CHANNEL_MANIFOLD_PRESSURE, 0},
    {"Lambda", EW_CHANNEL_LAMBDA, 0},
    {"Lambda 1", EW_CHANNEL_LAMBDA, 1},
    {"Wideband", EW_CHANNEL_LAMBDA, 0},
    {"Lambda 2", EW_CHANNEL_LAMBDA_2, 2},
    {"AFR", EW_CHANNEL_AIR_FUEL_RATIO, 0},
    {"A/F", EW_CHANNEL_AIR_FUEL_RATIO, 0},
    {"Air Fuel Ratio", EW_CHANNEL_AIR_FUEL_RATIO, 0},
    {"Fuel Flow", EW_CHANNEL_FUEL_FLOW, 0},
    {"fuel_kg_per_h", EW_CHANNEL_FUEL_FLOW, 0},
    {"Fuel Consumption", EW_CHANNEL_FUEL_FLOW, 0},
    {"Airflow", EW_CHANNEL_AIR_FLOW, 0},
    {"MAF", EW_CHANNEL_AIR_FLOW, 0},
    {"Oil Pressure", EW_CHANNEL_OIL_PRESSURE, 0},
    {"OilP", EW_CHANNEL_OIL_PRESSURE, 0},
    {"oil_press", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Oil Temp", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Oil Temperature", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"T_oil", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Coolant Temp", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"CLT", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"ECT", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Water Temp", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"CHT", EW_CHANNEL_HEAD_TEMPERATURE, 0},
    /* spellings of logger files and of five languages; common practice, no source */
    {"Carb Air", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Water Out", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"H2O Temp", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Oil Prs", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Fuel Prs", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Wet Bulb", EW_CHANNEL_WET_BULB, 0},
    {"Dew Pt", EW_CHANNEL_DEW_POINT, 0},
    {"Vapor Pressure", EW_CHANNEL_VAPOUR_PRESSURE, 0},
    {"Pan Vac", EW_CHANNEL_CRANKCASE_PRESSURE, 0},
    {"Lufttemp", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Abgastemperatur", EW_CHANNEL_EXHAUST_TEMPERATURE, 0},
    {"Kraftstoffdruck", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Régime moteur", EW_CHANNEL_SPEED, 0},
    {"Couple", EW_CHANNEL_TORQUE, 0},
    {"Puissance", EW_CHANNEL_POWER, 0},
    {"Pression huile", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Température eau", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Revoluciones", EW_CHANNEL_SPEED, 0},
    {"Par motor", EW_CHANNEL_TORQUE, 0},
    {"Presión aceite", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Humedad", EW_CHANNEL_HUMIDITY, 0},
    {"Giri motore", EW_CHANNEL_SPEED, 0},
    {"Coppia", EW_CHANNEL_TORQUE, 0},
    {"Temperatura acqua", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Toerental", EW_CHANNEL_SPEED, 0},
    {"Koppel", EW_CHANNEL_TORQUE, 0},
    {"Oliedruk", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Luchtdruk", EW_CHANNEL_BAROMETER, 0},
    {"DREHMOMENT", EW_CHANNEL_TORQUE, 0},
    {"ÖLDRUCK", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Oeltemperatur", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Öl-Temp", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Ansauglufttemperatur", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Kühlwassertemperatur", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Kraftstoffverbrauch", EW_CHANNEL_FUEL_FLOW, 0},
    {"Luftmassenstrom", EW_CHANNEL_AIR_FLOW, 0},
    {"Saugrohrdruck", EW_CHANNEL_MANIFOLD_PRESSURE, 0},
    {"Drosselklappenstellung", EW_CHANNEL_THROTTLE, 0},
    {"Zündwinkel", EW_CHANNEL_SPARK, 0},
    {"rel. Luftfeuchtigkeit", EW_CHANNEL_HUMIDITY, 0},
    {"Luftdruck auf Meereshöhe", EW_CHANNEL_SEA_LEVEL_PRESSURE, 0},
    {"Kurbelgehäusedruck", EW_CHANNEL_CRANKCASE_PRESSURE, 0},
    {"Bremsendrehzahl", EW_CHANNEL_SPEED_2, 0},
    {"Abgastemperatur 3", EW_CHANNEL_EXHAUST_TEMPERATURE, 3},
    {"RÉGIME", EW_CHANNEL_SPEED, 0},
    {"Vitesse de rotation", EW_CHANNEL_SPEED, 0},
    {"Couple moteur", EW_CHANNEL_TORQUE, 0},
    {"Pression d'huile", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Temp. huile", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Température d'eau", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Température du liquide de refroidissement", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Température air admission", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Température gaz échappement", EW_CHANNEL_EXHAUST_TEMPERATURE, 0},
    {"Pression atmosphérique", EW_CHANNEL_BAROMETER, 0},
    {"Pression d'admission", EW_CHANNEL_MANIFOLD_PRESSURE, 0},
    {"Pression carburant", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Débit carburant", EW_CHANNEL_FUEL_FLOW, 0},
    {"Débit d'air", EW_CHANNEL_AIR_FLOW, 0},
    {"Consommation spécifique", EW_CHANNEL_BSFC, 0},
    {"Ouverture papillon", EW_CHANNEL_THROTTLE, 0},
    {"Avance à l'allumage", EW_CHANNEL_SPARK, 0},
    {"Humidité relative", EW_CHANNEL_HUMIDITY, 0},
    {"Point de rosée", EW_CHANNEL_DEW_POINT, 0},
    {"Dépression carter", EW_CHANNEL_CRANKCASE_PRESSURE, 0},
    {"Cliquetis", EW_CHANNEL_KNOCK, 0},
    {"Temps", EW_CHANNEL_TIME, 0},
    {"Tiempo", EW_CHANNEL_TIME, 0},
    {"Régimen", EW_CHANNEL_SPEED, 0},
    {"Velocidad del motor", EW_CHANNEL_SPEED, 0},
    {"Par", EW_CHANNEL_TORQUE, 0},
    {"Potencia", EW_CHANNEL_POWER, 0},
    {"Presión de aceite", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Temp. aceite", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Temperatura del agua", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Temperatura refrigerante", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Temperatura aire admisión", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Temperatura gases de escape", EW_CHANNEL_EXHAUST_TEMPERATURE, 0},
    {"Presión atmosférica", EW_CHANNEL_BAROMETER, 0},
    {"Presión de combustible", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Caudal de combustible", EW_CHANNEL_FUEL_FLOW, 0},
    {"Caudal de aire", EW_CHANNEL_AIR_FLOW, 0},
    {"Avance de encendido", EW_CHANNEL_SPARK, 0},
    {"Humedad relativa", EW_CHANNEL_HUMIDITY, 0},
    {"Posición mariposa", EW_CHANNEL_THROTTLE, 0},
    {"Tempo", EW_CHANNEL_TIME, 0},
    {"Numero di giri", EW_CHANNEL_SPEED, 0},
    {"Potenza", EW_CHANNEL_POWER, 0},
    {"Pressione olio", EW_CHANNEL_OIL_PRESSURE, 0},
    {"Temperatura olio", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Temperatura aria aspirata", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Temperatura gas di scarico", EW_CHANNEL_EXHAUST_TEMPERATURE, 0},
    {"Pressione atmosferica", EW_CHANNEL_BAROMETER, 0},
    {"Portata carburante", EW_CHANNEL_FUEL_FLOW, 0},
    {"Portata aria", EW_CHANNEL_AIR_FLOW, 0},
    {"Anticipo accensione", EW_CHANNEL_SPARK, 0},
    {"Apertura farfalla", EW_CHANNEL_THROTTLE, 0},
    {"Umidità relativa", EW_CHANNEL_HUMIDITY, 0},
    {"Rapporto aria/carburante", EW_CHANNEL_AIR_FUEL_RATIO, 0},
    {"Tijd", EW_CHANNEL_TIME, 0},
    {"Motortoerental", EW_CHANNEL_SPEED, 0},
    {"Olietemperatuur", EW_CHANNEL_OIL_TEMPERATURE, 0},
    {"Koelwatertemperatuur", EW_CHANNEL_COOLANT_TEMPERATURE, 0},
    {"Inlaatluchttemperatuur", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Uitlaatgastemperatuur", EW_CHANNEL_EXHAUST_TEMPERATURE, 0},
    {"Brandstofdruk", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Brandstofverbruik", EW_CHANNEL_FUEL_FLOW, 0},
    {"Luchtvochtigheid", EW_CHANNEL_HUMIDITY, 0},
    {"Voorontsteking", EW_CHANNEL_SPARK, 0},
    {"Gasklepstand", EW_CHANNEL_THROTTLE, 0},
    /* words that look like a channel and are none: richesse is the inverse of lambda */
    {"Richesse", NONE, 0},
    {"Kraft", NONE, 0},
    {"Heures", NONE, 0},
    {"Par cylindre", NONE, 0},
    {"Température", NONE, 0},
    {"Pressione", NONE, 0},
    {"Velocità", NONE, 0},
    {"Vitesse", NONE, 0},
    {"Huile", NONE, 0},
    {"CHT 3", EW_CHANNEL_HEAD_TEMPERATURE, 3},
    {"CHT (column 7)", EW_CHANNEL_HEAD_TEMPERATURE, 0},
    {"Coolant Pressure", EW_CHANNEL_COOLANT_PRESSURE, 0},
    {"Fuel Pressure", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Rail Pressure", EW_CHANNEL_FUEL_PRESSURE, 0},
    {"Fuel Temp", EW_CHANNEL_FUEL_TEMPERATURE, 0},
    {"IAT", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Intake Air Temp", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Air Temp", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Inlet Air Temperature", EW_CHANNEL_INLET_AIR_TEMPERATURE, 0},
    {"Baro", EW_CHANNEL_BAROMETER, 0},
    {"Barometer", EW_CHANNEL_BAROMETER, 0},
    {"Barometric Pressure", EW_CHANNEL_BAROMETER, 0},
    {"Ambient Pressure", EW_CHANNEL_BAROMETER, 0},
    {"QNH", EW_CHANNEL_SEA_LEVEL_PRESSURE, 0},
    {"Sea Level Pressure", EW_CHANNEL_SEA_LEVEL_PRESSURE, 0},
    {"Humidity", EW_CHANNEL_HUMIDITY, 0},
    {"RH", EW_CHANNEL_HUMIDITY, 0},
    {"Rel. Humidity", EW_CHANNEL_HUMIDITY, 0},
    {"Dew Point", EW_CHANNEL_DEW_POINT, 0},
    {"EGT", EW_CHANNEL_EXHAUST_TEMPERATURE, 0},
    {"EGT1", EW_CHANNEL_EXHAUST_TEMPERATURE, 1},
    {"EGT 6", EW_CHANNEL_EXHAUST_TEMPERATURE, 6},
    {"Cyl 4 EGT", EW_CHANNEL_EXHAUST_TEMPERATURE, 4},
    {"Exhaust Temp Cyl 2", EW_CHANNEL_EXHAUST_TEMPERATURE, 2},
    {"Crankcase Pressure", EW_CHANNEL_CRANKCASE_PRESSURE, 0},
    {"Pan Vacuum", EW_CHANNEL_CRANKCASE_PRESSURE, 0},
    {"Blow-by", EW_CHANNEL_BLOW_BY, 0},
    {"Knock Count", EW_CHANNEL_KNOCK, 0},
    {"Detonation", EW_CHANNEL_KNOCK, 0},
    {"Ignition Timing", EW_CHANNEL_SPARK, 0},
    {"Spark Advance", EW_CHANNEL_SPARK, 0},
    {"BMEP", EW_CHANNEL_BMEP, 0},
    {"BSFC", EW_CHANNEL_BSFC, 0},
    {"Dyno Water Temp", EW_CHANNEL_ABSORBER_WATER_TEMPERATURE, 0},
    {"Spare 1", NONE, 0},
    {"Gear", NONE, 0},
    {"Notes", NONE, 0},
    {"column 3", NONE, 0},
    {"", NONE, 0},
};

static void headings_are_known(void **state) {
  (void)state;
  assert_true(G_N_ELEMENTS(headings) >= 60);
  for (gsize i = 0; i < G_N_ELEMENTS(headings); i++) {
    int strength, index;
    enum ew_channel channel = ew_channel_by_name(headings[i].heading, &strength, &index);
    expect(channel == headings[i].channel, headings[i].heading, "%s",
           channel < NONE ? ew_channel_facts[channel].key : "nothing");
    expect(channel == NONE || index == headings[i].index, headings[i].heading, "%d", index);
    expect((strength > 0) == (channel != NONE), headings[i].heading, "%d", strength);
    expect(!ew_channel_excluded(headings[i].heading), headings[i].heading, "%s",
           ew_channel_excluded(headings[i].heading)->id);
  }
}

static void what_is_no_reading(void **state) {
  (void)state;
  static const char *const rows[] = {
      "Lambda Target",        "AFR target",         "Torque Setpoint",  "RPM Limit",
      "Throttle demand",      "Corrected Torque",   "Torque (corr)",    "Wheel Speed",
      "Vehicle Speed",        "Turbo Speed",        "Lambda error",     "Fuel Trim",
      "Oil Pressure Switch",  "lambda_target",      "Drehzahl Soll",    "Spark coil voltage",
      "Ignition V",           "Coil spark",         "Lambda volts",     "TPS_mV",
      "Spark dwell",          "Coolant level",      "Fuel duty",        "Fuel pump current",
      "Zuendspannung kV",     "Battery Voltage",    "Fuel pulse width", "Couple consigne",
      "Drehmoment Sollwert",  "Couple corrigé",     "Par corregido",    "Coppia corretta",
      "Vitesse véhicule",     "Velocidad vehículo", "Giri ruota",       "Pression turbo",
      "Niveau d'huile",       "Nivel de aceite",    "Livello olio",     "Temps d'injection",
      "Tiempo inyección",     "Injection Timing",   "Inj Time",         "Tensione lambda",
      "Getriebe Öltemperatur"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    expect(ew_channel_excluded(rows[i]) != NULL, rows[i], "taken");
}

/* A name that is not written as headings are compared would never be met. */
static void names_are_met(void **state) {
  (void)state;
  for (int i = 0; i < EW_CHANNELS_COUNT; i++) {
    g_auto(GStrv) names = g_strsplit(ew_channel_facts[i].names, "|", -1);
    for (int k = 0; names[k]; k++) {
      int strength, index;
      ew_channel_by_name(names[k] + (*names[k] == '='), &strength, &index);
      expect(strength >= 97, names[k], "%s: %d", ew_channel_facts[i].key, strength);
    }
  }
}

static void facts_are_whole(void **state) {
  (void)state;
  for (int i = 0; i < EW_CHANNELS_COUNT; i++) {
    const struct ew_channel_facts *f = &ew_channel_facts[i];
    int strength, index;
    expect(ew_channel_by_key(f->key) == (enum ew_channel)i, f->key, "another");
    expect(f->low < f->high && f->usual_lag_s >= 0 && f->usual_lag_s <= 10, f->key, "%g",
           f->usual_lag_s);
    if (i != EW_CHANNEL_BMEP && i != EW_CHANNEL_BSFC && i != EW_CHANNEL_LAMBDA_2 &&
        i != EW_CHANNEL_SPEED_2)
      expect(ew_channel_by_name(f->label, &strength, &index) == (enum ew_channel)i, f->label,
             "its own label is not known");
  }
  assert_int_equal(ew_channel_by_key("moon"), NONE);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(headings_are_known), cmocka_unit_test(what_is_no_reading),
      cmocka_unit_test(names_are_met), cmocka_unit_test(facts_are_whole)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
