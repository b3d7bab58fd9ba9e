"""What the programs of this folder share: engine files with only what a stranger would know, and predictions of them."""
import json
import os
import subprocess
import tempfile

FIRING = {1: [1], 2: [1, 2], 3: [1, 3, 2], 4: [1, 3, 4, 2], 5: [1, 2, 4, 5, 3], 6: [1, 5, 3, 6, 2, 4], 8: [1, 8, 4, 3, 6, 5, 7, 2]}


def engine_file(cylinders, bore_mm, stroke_mm, ratio, head, check_duration_deg, lift_mm, octane=130, mixture=0.9, breathing=(),
                layout=(), sizes=()):
    """Duration at 1.27 mm of lift; the lobe's flanks and ramps are those of an ordinary flat-tappet cam. `sizes`: lines for either side."""
    lines = ["name: an engine of which little is known", f"cylinders: {cylinders}", f"bore: {bore_mm:.2f} mm", f"stroke: {stroke_mm:.2f} mm",
             "fuel: petrol", f"octane: {octane}", f"lambda_target: {mixture}", f"head: {head}",
             "geometry:", f"  rod_length: {1.6 * stroke_mm:.1f} mm", f"  firing_order: {FIRING[cylinders]}", *("  " + line for line in layout),
             "compression:", f"  ratio: {ratio}",
             "cam:", "  lifter: flat solid", "  lobe_separation: 110 deg", "  inlet_centreline: 108 deg"]
    for side in ("inlet", "exhaust"):
        lines += [side + ":", f"  gross_lift: {lift_mm:.2f} mm", f"  duration: {check_duration_deg + 38} deg", "  duration_lift: 0.5 mm",
                  f"  check_duration: {check_duration_deg} deg", "  check_lift: 1.27 mm", "  ramp_height: 0.3 mm", "  ramp_length: 34 deg",
                  *("  " + line for line in sizes)]
    lines += ["breathing:", *("  " + line for line in breathing), "fuel_system:", f"  injectors: {cylinders}"]
    return "\n".join(lines) + "\n"


def predict(program, text, speeds, *more):
    """The answer's JSON; speeds as --speeds takes them. Cells of 40 mm, one thread."""
    return ask(program, "predict", text, "--speeds", speeds, *more)


def ask(program, what, text, *more):
    with tempfile.NamedTemporaryFile("w", suffix=".yaml", delete=False) as file:
        file.write(text)
    done = subprocess.run([program, "engine", what, file.name, "--cell", "40 mm", "--threads", "1", "--json", *more],
                          capture_output=True, text=True, check=False)
    os.unlink(file.name)
    if done.returncode:
        raise RuntimeError(f"{done.stderr}\n{text}")
    return json.loads(done.stdout)
