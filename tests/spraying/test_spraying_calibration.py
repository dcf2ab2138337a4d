"""Calibration against what extension services print, and what follows from it by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError, QuantityError
from gladebook.spraying.calibration.by_hand import hand_mix, spot_mix
from gladebook.spraying.calibration.course import PINT_COURSE_M2, catch_rate, course_length, timed_speed
from gladebook.spraying.calibration.flow import difference_from, output_of, rate_at_speed
from gladebook.spraying.calibration.height import boom_height, fan_width
from gladebook.spraying.calibration.pressure import flow_at, pressure_for
from gladebook.spraying.calibration.spreader import spread_rate
from gladebook.spraying.calibration.tips import judge_tips
from gladebook.units import ACRE_M2, FT_M, GAL_M3, IN_M, LB_KG, MPH_MPS, parse_quantity
from gladebook.units.factors import FLOZ_M3, PSI_PA

GPM = GAL_M3 / 60
GPA = GAL_M3 / ACRE_M2
LB_AC = LB_KG / ACRE_M2
BY_HAND = "arithmetic from the equation"
WG013 = "Univ. of Florida IFAS, Calibration of Herbicide Applicators, EDIS WG013, Eq. 1"
ALBANY = "Albany County (Wyoming) Weed and Pest, boomless example"
MESA = "Mesa County (Colorado), Stationary calibration method, 495 form"
LSU = "LSU AgCenter, Ounces Equal Gallons"
OHIO = "Ohio State Univ. Ext. Bulletin 817-00, Table 1"
CLEMSON = "Clemson Univ. weed science calibration page"


def gpa(flow_gpm: float, mph: float, width_in: float) -> float:
    output = output_of(flow_m3_per_s=flow_gpm * GPM, speed_mps=mph * MPH_MPS, width_m=width_in * IN_M)
    return output.rate_m / GPA


# gallons a minute, mph, inches -> gallons per acre, tolerance, source
OUTPUTS = [
    (0.30, 5, 20, 17.82, 0.005, BY_HAND),
    (0.20, 5, 20, 11.88, 0.005, BY_HAND),
    (0.2525, 5, 20, 15.0, 0.01, BY_HAND),
    (3.75, 5, 222, 20.07, 0.005, BY_HAND),
    (3.75, 5, 222, 20, 0.5, ALBANY),
    (4.0, 5, 720, 6.6, 0.005, MESA),
    (5940 / 5940, 1, 1, 5940, 1e-6, WG013),
]


@pytest.mark.parametrize(("flow", "mph", "width", "printed", "within", "source"), OUTPUTS)
def test_the_nozzle_equation_gives_what_is_printed(
    flow: float, mph: float, width: float, printed: float, within: float, source: str
) -> None:
    """Gallons per acre from flow, speed and width are those of the source, to its rounding."""
    assert gpa(flow, mph, width) == pytest.approx(printed, abs=within), source


@pytest.mark.parametrize(
    ("constant", "feet", "per_minute_m3"),
    [
        (5940, False, GAL_M3),  # WG013, Eq. 1; Clemson
        (495, True, GAL_M3),  # Mesa County
        (46.4, False, FLOZ_M3),  # 5940 / 128 = 46.406, printed as 46.4
    ],
)
def test_the_printed_constants_follow_from_the_units(constant: float, feet: bool, per_minute_m3: float) -> None:
    """5940, 495 and 46.4 are what one gallon (or ounce) a minute gives at 1 mph on one inch (or foot)."""
    width_m = FT_M if feet else IN_M
    found = output_of(flow_m3_per_s=per_minute_m3 / 60, speed_mps=MPH_MPS, width_m=width_m).rate_m / GPA
    assert found == pytest.approx(constant, abs=0.05 if constant < 100 else 1e-6)


@given(
    flow=st.floats(0.01, 20),
    mph=st.floats(0.5, 20),
    width=st.floats(5, 700),
    left=st.sampled_from(["flow", "speed", "width"]),
)
def test_any_three_give_the_fourth(flow: float, mph: float, width: float, left: str) -> None:
    """What was worked out leads back to what it was worked out from."""
    given_ = {"flow_m3_per_s": flow * GPM, "speed_mps": mph * MPH_MPS, "width_m": width * IN_M}
    rate_m = output_of(**given_).rate_m
    name = {"flow": "flow_m3_per_s", "speed": "speed_mps", "width": "width_m"}[left]
    rest = {k: v for k, v in given_.items() if k != name}
    if rate_m < 0.1:
        assert getattr(output_of(rate_m=rate_m, **rest), name) == pytest.approx(given_[name], rel=1e-9)


# inches -> feet as printed; tables mix rounding and cutting off, so a foot either way
COURSES = [
    *[(w, ft, LSU) for w, ft in [(10, 408), (12, 340), (14, 291), (16, 255), (18, 227), (20, 204), (22, 185), (24, 170),
                                 (26, 157), (28, 146), (30, 136)]],
    *[(w, ft, OHIO) for w, ft in [(32, 127), (34, 120), (36, 113), (38, 107), (40, 102)]],
    (32, 128, CLEMSON),
]  # fmt: skip


@pytest.mark.parametrize(("width", "printed", "source"), COURSES)
def test_the_course_for_an_acre_over_128_is_that_of_the_tables(width: float, printed: float, source: str) -> None:
    """The length of the 1/128-acre course is within a foot of every printed one."""
    assert course_length(width_m=width * IN_M) / FT_M == pytest.approx(printed, abs=1.0), source
    assert course_length(width_m=width * IN_M) / FT_M == pytest.approx(4083.75 / width, rel=1e-12)


# Clemson, boomless: feet of swath -> feet of course, rounded up; they are 5,445 / swath, so 1/8 acre (arithmetic)
BOOMLESS = [(30, 182), (32, 171), (34, 161), (36, 152), (38, 144), (40, 137), (42, 130), (44, 124)]


@pytest.mark.parametrize(("swath", "printed"), BOOMLESS)
def test_the_boomless_course_is_an_eighth_of_an_acre(swath: float, printed: float) -> None:
    """The printed courses for wide swaths are those of 1/8 acre, rounded up to the foot."""
    assert math.ceil(course_length(width_m=swath * FT_M, share="1/8") / FT_M - 1e-9) == printed
    assert pytest.approx(5445, rel=1e-12) == PINT_COURSE_M2 / FT_M**2


def test_pints_on_an_eighth_of_an_acre_are_gallons_per_acre() -> None:
    """A gallon is 8 pints and an eighth of an acre an eighth, so 15 pt is 15 gal/ac (arithmetic)."""
    assert catch_rate([15 * GAL_M3 / 8], ground_m2=PINT_COURSE_M2).rate_m / GPA == pytest.approx(15, rel=1e-12)


# ounces caught -> gallons per acre
CATCHES = [
    ([14], 14, "LSU AgCenter: 40-in rows, both nozzles of a row, 14 oz"),
    ([15], 15, "Ohio State Univ. Ext. steps (reprint read)"),
    ([40], 40, "backpack, 40 oz on 340 sq ft (reprint read)"),
    ([7.5], 7.5, "North Carolina State Univ., Christmas-tree backpack worksheet"),
    ([14, 16], 15, BY_HAND),
]


@pytest.mark.parametrize(("ounces", "printed", "source"), CATCHES)
def test_ounces_caught_are_gallons_per_acre(ounces: list[float], printed: float, source: str) -> None:
    """Ounces caught in the time of 1/128 acre are gallons per acre, exactly; several are averaged."""
    assert catch_rate([o * FLOZ_M3 for o in ounces]).rate_m / GPA == pytest.approx(printed, rel=1e-12), source


def test_the_shape_of_the_ground_does_not_matter() -> None:
    """18.5 x 18.5, 10 x 34 and 1.5 x 228 ft are printed as 340 sq ft: within 1 % (slide set, reprint read)."""
    for a, b in ((18.5, 18.5), (10, 34), (1.5, 228)):
        assert a * b == pytest.approx(43560 / 128, rel=0.01)


def test_known_ground_gives_gallons_per_acre() -> None:
    """1.5 gal on 1,000 sq ft is 65.34 gal/ac, printed as 65 (reprint read)."""
    found = catch_rate([1.5 * GAL_M3], ground_m2=1000 * FT_M**2).rate_m / GPA
    assert found == pytest.approx(65.34, abs=0.005)


# feet, seconds -> mph
SPEEDS = [
    (200, [34], 4.01, BY_HAND),
    (88, [20], 3.00, BY_HAND),
    (88, [60], 1.0, "88 ft in a minute are 1 mph exactly"),
    (102, [17], 4.09, "LSU AgCenter: 102 ft in 17 s"),
    (200, [34.09], 4.0, BY_HAND),
    (57, [16, 18], 57 / 17 * 60 / 88, "North Carolina State Univ. worksheet: 16 and 18 s, mean 17"),
]


@pytest.mark.parametrize(("feet", "seconds", "printed", "source"), SPEEDS)
def test_a_timed_course_gives_the_speed(feet: float, seconds: list[float], printed: float, source: str) -> None:
    """Speed is the course over the mean time."""
    found = timed_speed(seconds, course_m=feet * FT_M).speed_mps / MPH_MPS
    assert found == pytest.approx(printed, abs=0.006), source


# flow, at psi, now psi -> flow: square root (Oklahoma State Univ. Ext., Boom-Mounted Nozzles: four times for twice)
PRESSURES = [(0.40, 40, 30, 0.3464), (0.40, 40, 60, 0.4899), (0.20, 40, 20, 0.1414), (0.20, 40, 160, 0.40)]


@pytest.mark.parametrize(("flow", "at", "now", "gives"), PRESSURES)
def test_flow_goes_with_the_square_root_of_pressure(flow: float, at: float, now: float, gives: float) -> None:
    """Flow at another pressure, and the pressure that gives it, to the fourth digit."""
    found = flow_at(flow * GPM, pressure_pa=at * PSI_PA, now_pa=now * PSI_PA)
    assert found / GPM == pytest.approx(gives, abs=5e-5)
    assert pressure_for(found, flow_m3_per_s=flow * GPM, pressure_pa=at * PSI_PA) / PSI_PA == pytest.approx(
        now, rel=1e-9
    )


def test_a_quarter_more_flow_takes_over_half_more_pressure() -> None:
    """0.25 gal/min from a tip of 0.20 at 40 psi takes 62.5 psi; 10 % more speed 1.21 times (arithmetic)."""
    assert pressure_for(0.25 * GPM, flow_m3_per_s=0.2 * GPM, pressure_pa=40 * PSI_PA) / PSI_PA == pytest.approx(62.5)
    assert pressure_for(1.1 * GPM, flow_m3_per_s=GPM, pressure_pa=40 * PSI_PA) / PSI_PA == pytest.approx(48.4)


# height or spacing in inches, degrees -> inches (geometry)
FANS = [(20, 80, 33.6), (20, 110, 57.1)]
HEIGHTS = [(20, 80, 1.0, 23.8), (20, 110, 1.0, 14.0), (20, 80, 0.5, 17.9), (20, 110, 0.5, 10.5)]


@pytest.mark.parametrize(("height", "angle", "width"), FANS)
def test_a_fan_is_as_wide_as_its_angle_makes_it(height: float, angle: float, width: float) -> None:
    """Width of a fan on the target, to a tenth of an inch."""
    assert fan_width(height_m=height * IN_M, angle_deg=angle) / IN_M == pytest.approx(width, abs=0.05)


@pytest.mark.parametrize(("spacing", "angle", "overlap", "height"), HEIGHTS)
def test_the_boom_is_as_high_as_the_fans_need(spacing: float, angle: float, overlap: float, height: float) -> None:
    """Height for fans half as wide again as, or twice as wide as, the spacing."""
    found = boom_height(spacing_m=spacing * IN_M, angle_deg=angle, overlap=overlap)
    assert found / IN_M == pytest.approx(height, abs=0.05)
    assert fan_width(height_m=found, angle_deg=angle) == pytest.approx(spacing * IN_M * (1 + overlap), rel=1e-9)


# Worked by hand on the limits of Univ. of Idaho (5 %) and a turf association's note of 2016 (10 % above new)
def test_tips_are_judged_one_by_one() -> None:
    """15.0, 15.4, 14.8 and 17.1 oz: mean 15.575; the last is 9.8 % over it, and 14 % over a new tip of 15 oz."""
    ounces = [15.0, 15.4, 14.8, 17.1]
    found = judge_tips([o * FLOZ_M3 for o in ounces])
    assert found.mean_m3 / FLOZ_M3 == pytest.approx(15.575)
    assert [round(100 * t.off_mean, 1) for t in found.tips] == [-3.7, -1.1, -5.0, 9.8]
    assert [t.word for t in found.tips] == ["good", "good", "good", "clean"]
    worn = judge_tips([o * FLOZ_M3 for o in ounces], new_m3=15 * FLOZ_M3)
    assert worn.tips[3].off_new == pytest.approx(0.14)
    assert [t.word for t in worn.tips] == ["good", "good", "good", "replace"]


@pytest.mark.parametrize(("last", "word"), [(1.05, "good"), (1.0501, "clean"), (1.10, "clean"), (1.1001, "replace")])
def test_the_limits_of_wear_are_five_and_ten_percent(last: float, word: str) -> None:
    """Exactly 5 % is good, exactly 10 % is not yet worn out, held against a new tip."""
    assert judge_tips([last * FLOZ_M3], new_m3=FLOZ_M3).tips[0].word == word


def test_a_plugged_tip_is_cleaned_not_replaced() -> None:
    """A tip that gives little or nothing is dirty, not worn."""
    assert judge_tips([0.0, FLOZ_M3, FLOZ_M3, FLOZ_M3]).tips[0].word == "clean"


# product for hand-held sprayers: rate, gal/ac, tank -> per gallon, per tank
def test_a_backpack_gets_its_product_by_the_gallon() -> None:
    """1 qt/ac at 40 gal/ac: 0.8 fl oz a gallon (reprint read); 8 fl oz/ac at 7.5: 1.07, 3.2 in 3 gal (NC State)."""
    one = hand_mix(parse_quantity("1 qt/ac", kind="volume per area"), spray_m=40 * GPA)
    assert one.per_gallon == pytest.approx(0.8, rel=1e-9)
    other = hand_mix(parse_quantity("8 fl oz/ac", kind="volume per area"), spray_m=7.5 * GPA, tank_m3=3 * GAL_M3)
    assert other.per_gallon == pytest.approx(1.07, abs=0.005)
    assert other.per_tank == pytest.approx(3.2, abs=0.005)
    assert other.covers_m2 == pytest.approx(3 / 7.5 * ACRE_M2)


def test_a_spot_spray_by_percent() -> None:
    """2 % of 3 gal is 7.68 fl oz (arithmetic)."""
    spot = spot_mix(parse_quantity("2 %", kind="percent of volume"), tank_m3=3 * GAL_M3)
    assert spot.per_tank == pytest.approx(7.68, rel=1e-9)
    assert spot.covers_m2 is None


# lb, swath ft, length ft -> lb/ac
SPREADS = [
    (6.5, 20, 217.8, 65.0, "arithmetic: a tenth of an acre"),
    (5.0, 10, 100, 217.8, "LSU: 10 x 100 ft is 1,000 sq ft; 5 lb of 20-0-0 for 1 lb N"),
    (1.0, 12, 250 / 3, 43.56, "83 ft 4 in by 12 ft is 1,000 sq ft (reprint read)"),
]


@pytest.mark.parametrize(("pounds", "swath", "length", "printed", "source"), SPREADS)
def test_a_spreader_gives_its_pounds_per_acre(
    pounds: float, swath: float, length: float, printed: float, source: str
) -> None:
    """Weight over swath and length."""
    found = spread_rate(pounds * LB_KG, swath_m=swath * FT_M, length_m=length * FT_M)
    assert found.rate_kg_per_m2 / LB_AC == pytest.approx(printed, rel=1e-6), source


def test_crosswise_at_half_rate_doubles_on_purpose() -> None:
    """Wanted 130 lb/ac crosswise: each trip is set for 65, and one that gives 65 is just right."""
    found = spread_rate(
        6.5 * LB_KG, swath_m=20 * FT_M, length_m=217.8 * FT_M, wanted_kg_per_m2=130 * LB_AC, crosswise=True
    )
    assert found.trips == 2
    assert found.set_for_kg_per_m2 is not None
    assert found.set_for_kg_per_m2 / LB_AC == pytest.approx(65)
    assert found.off == pytest.approx(0.0, abs=1e-9)


# gal/ac at mph -> gal/ac at another speed (arithmetic; pressure the same)
@pytest.mark.parametrize(("speed", "now", "gives"), [(5, 6, 12.5), (5, 4, 18.75), (5, 5.5, 15 / 1.1)])
def test_gallons_per_acre_fall_with_speed(speed: float, now: float, gives: float) -> None:
    """15 gal/ac at 5 mph is 12.5 at 6, 18.75 at 4, and 9.1 % less at 10 % more speed."""
    assert rate_at_speed(15 * GPA, speed_mps=speed, now_mps=now) / GPA == pytest.approx(gives, rel=1e-9)


@pytest.mark.parametrize(("actual", "adjust"), [(15.0, False), (15.75, False), (15.76, True), (14.2, True)])
def test_more_than_five_percent_off_is_adjusted(actual: float, adjust: bool) -> None:
    """Adjust where actual gallons per acre are more than 5 % off (Ohio State Univ. Ext.; reprint read)."""
    assert difference_from(actual * GPA, wanted_m=15 * GPA)[1] is adjust


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_figure_that_cannot_be_is_refused(bad: float) -> None:
    """Nothing, less than nothing, no number and endless are refused by every calibration."""
    calls = [
        lambda: output_of(flow_m3_per_s=bad, speed_mps=1.0, width_m=1.0),
        lambda: course_length(width_m=bad),
        lambda: catch_rate([bad]),
        lambda: timed_speed([bad], course_m=10.0),
        lambda: flow_at(bad, pressure_pa=1e5, now_pa=1e5),
        lambda: pressure_for(1e-5, flow_m3_per_s=1e-5, pressure_pa=bad),
        lambda: boom_height(spacing_m=bad, angle_deg=110),
        lambda: spread_rate(bad, swath_m=1.0, length_m=1.0),
        lambda: rate_at_speed(1e-6, speed_mps=bad, now_mps=1.0),
        lambda: judge_tips([1e-4, 1e-4], new_m3=bad),
    ]
    for call in calls:
        with pytest.raises(CallError):
            call()


def test_absurd_figures_are_refused() -> None:
    """A tractor at 60 mph, a swath of a mile, a pressure of a jet of steel: each gets its sentence."""
    with pytest.raises(CallError, match="30 mph"):
        output_of(flow_m3_per_s=GPM, speed_mps=60 * MPH_MPS, width_m=1.0)
    with pytest.raises(CallError, match="200 ft"):
        course_length(width_m=1600.0)
    with pytest.raises(CallError, match="1,000 psi"):
        flow_at(GPM, pressure_pa=40 * PSI_PA, now_pa=5000 * PSI_PA)
    with pytest.raises(CallError, match="33 mph"):
        timed_speed([1.0], course_m=200 * FT_M)
    with pytest.raises(CallError, match="degrees"):
        fan_width(height_m=0.5, angle_deg=180)
    with pytest.raises(CallError, match="three of"):
        output_of(flow_m3_per_s=GPM, speed_mps=1.0)
    with pytest.raises(QuantityError):
        hand_mix(parse_quantity("0.1 lb ai/ac", kind="weight per area"), spray_m=GPA)
    with pytest.raises(CallError, match="more than the spray"):
        hand_mix(parse_quantity("20 gal/ac", kind="volume per area"), spray_m=15 * GPA)
