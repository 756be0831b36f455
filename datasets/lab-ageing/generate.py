"""Invented compression-set tests for the invented Harrow Lane group: four materials, ovens at several
temperatures, three specimens a look. Needs numpy. From the top folder of the repository:

    python3 datasets/lab-ageing/generate.py

Planted: a stretched-exponential approach to 100 %, 1 − exp(−(t/τ)^0.55), with Arrhenius τ. 50 % is
reached at 0.5136 τ. EPDM 95 kJ/mol, FKM 70, NBR 88; VMQ's energy falls from 90 to 60 kJ/mol below 130 °C, so its
line bends. Specimens scatter by 6 % in ln τ, the gauge errs by 0.8 points. Nothing here is real.
"""

import pathlib

import numpy as np

GAS = 8.314462618e-3
SHAPE = 0.55
# Material: energy kJ/mol, τ in hours at 130 °C, ovens °C, longest test in hours.
PLAN = {
    "EPDM": (95.0, 900.0, (100, 115, 130, 145), 6000),
    "FKM": (70.0, 7500.0, (130, 150, 175, 200), 3000),
    "NBR": (88.0, 130.0, (85, 100, 115, 130), 3000),
    "VMQ": (90.0, 1500.0, (100, 115, 130, 150, 175), 6000),
}
LOOKS = (24, 72, 168, 336, 672, 1008, 2016, 3000, 6000)


def ln_tau(material, celsius):
    energy, at_130, _, _ = PLAN[material]
    inverse = 1 / (celsius + 273.15) - 1 / 403.15
    if material == "VMQ" and inverse > 0:
        energy = 60.0
    return np.log(at_130) + energy / GAS * inverse


def main():
    rng = np.random.default_rng(2024)
    lines = ["material,temperature_c,time_h,specimen,compression_set_pct"]
    for material, (_, _, ovens, longest) in PLAN.items():
        for celsius in ovens:
            for hours in (h for h in LOOKS if h <= longest):
                base = ln_tau(material, celsius)
                if (hours / np.exp(base)) ** SHAPE > 3.2:
                    continue
                for specimen in "abc":
                    tau = np.exp(base + 0.06 * rng.standard_normal())
                    value = 100 * -np.expm1(-((hours / tau) ** SHAPE)) + 0.8 * rng.standard_normal()
                    lines.append(f"{material},{celsius},{hours},{specimen},{max(value, 0.1):.1f}")
    path = pathlib.Path(__file__).with_name("compression-set.csv")
    path.write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
