"""Where numbers come from. Docstrings name a source by its key: `Basis: key (equation)`."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from lightoff.ground.values import dataclass


class Seen(StrEnum):
    """How well the source is known to this project."""

    FIRST_HAND = "first-hand"  # the source's own text was read
    SECOND_HAND = "second-hand"  # another's transcription or quotation was read
    NOT_SEEN = "not seen"  # known to exist and to hold this; not read
    MEMORY = "memory"  # written down from memory, unverified; proves nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One publication: title, edition, the place in it, and how it was seen."""

    title: str
    edition: str
    place: str
    seen: Seen


def _source(title: str, edition: str, place: str, seen: Seen) -> Source:
    return Source(title=title, edition=edition, place=place, seen=seen)


_FIRST, _SECOND, _NOT, _MEMORY = Seen.FIRST_HAND, Seen.SECOND_HAND, Seen.NOT_SEEN, Seen.MEMORY

SOURCES: Mapping[str, Source] = MappingProxyType(
    {
        # Coolant
        "melinder_2010": _source(
            "Å. Melinder, Properties of Secondary Working Fluids for Indirect Systems",
            "2nd edition, 2010",
            "ethylene and propylene glycol, as CoolProp 8.0.0 evaluates its coefficients; title from memory",
            _SECOND,
        ),
        "crc_102": _source(
            "CRC Handbook of Chemistry and Physics",
            "102nd edition, 2021",
            "concentrative properties of aqueous solutions, ethylene glycol, in a public transcription",
            _SECOND,
        ),
        # Units and uncertainty
        "bipm_si_2019": _source(
            "The International System of Units", "9th edition, 2019", "section 2", _MEMORY
        ),
        "nist_sp811_2008": _source(
            "Guide for the Use of the SI, NIST Special Publication 811", "2008", "appendix B", _MEMORY
        ),
        "jcgm_100_2008": _source(
            "Evaluation of measurement data: Guide to the expression of uncertainty in measurement",
            "JCGM 100:2008",
            "clauses 5 and 6",
            _MEMORY,
        ),
        "jcgm_101_2008": _source(
            "Propagation of distributions using a Monte Carlo method", "JCGM 101:2008", "clause 7", _MEMORY
        ),
        "iupac_2021": _source(
            "Standard atomic weights of the elements", "IUPAC 2021", "abridged table", _MEMORY
        ),
        "codata_1989": _source(
            "CODATA Key Values for Thermodynamics", "1989", "table 1, enthalpies of formation", _MEMORY
        ),
        "heckerman_1995": _source(
            "Decision-theoretic troubleshooting (Heckerman, Breese, Rommelse), Comm. ACM 38(3)",
            "1995",
            "pages 49 to 57",
            _SECOND,
        ),
        "kadane_1977": _source(
            "Best search strategy: satisficing by ratio of probability to cost (Kadane, Simon)",
            "Artificial Intelligence 8, 1977; rule as quoted in arXiv:1203.3502",
            "abstract",
            _SECOND,
        ),
        "ottosen_2010": _source(
            "The cost of troubleshooting cost clusters with inside information (Ottosen, Jensen), "
            "Uncertainty in Artificial Intelligence",
            "2010; arXiv:1203.3502",
            "abstract",
            _SECOND,
        ),
        "langseth_2003": _source(
            "Decision theoretic troubleshooting of coherent systems (Langseth, Jensen), "
            "Reliability Engineering and System Safety 80",
            "2003",
            "abstract",
            _SECOND,
        ),
        "dekleer_1987": _source(
            "Diagnosing multiple faults (de Kleer, Williams), Artificial Intelligence 32",
            "1987",
            "pages 97 to 130",
            _SECOND,
        ),
        "wilson_hilferty_1931": _source(
            "The distribution of chi-square (Wilson, Hilferty), Proc. National Academy of Sciences 17",
            "1931",
            "page 684",
            _MEMORY,
        ),
        "rasmussen_2006": _source(
            "Gaussian Processes for Machine Learning (Rasmussen, Williams)",
            "1st edition, 2006",
            "section 5.4.2, leave-one-out from the inverse covariance",
            _MEMORY,
        ),
        "robert_2004": _source(
            "Monte Carlo Statistical Methods (Robert, Casella)", "2nd edition, 2004", "chapter 3", _MEMORY
        ),
        "banerjee_2005": _source(
            "Clustering with Bregman Divergences (Banerjee and others), Journal of Machine Learning Research",
            "volume 6, 2005",
            "section 3",
            _MEMORY,
        ),
        "gelman_2013": _source(
            "Bayesian Data Analysis (Gelman and others)",
            "3rd edition, 2013",
            "chapter 5, appendix A",
            _MEMORY,
        ),
        "abramowitz_stegun_1964": _source(
            "Handbook of Mathematical Functions", "1964", "7.1.26, 26.2.12 and 26.7", _MEMORY
        ),
        # Gas and air
        "mcbride_1993": _source(
            "Coefficients for Calculating Thermodynamic and Transport Properties of Individual Species, "
            "NASA TM-4513",
            "October 1993",
            "gas tables, as transcribed in the data files of Cantera 3.2.0 (nasa_gas, air)",
            _SECOND,
        ),
        "grimech_30": _source(
            "GRI-Mech", "3.0", "thermodynamic data, as shipped with Cantera 3.2.0", _SECOND
        ),
        "us_standard_atmosphere_1976": _source(
            "U.S. Standard Atmosphere, NOAA-S/T 76-1562",
            "1976",
            "equations 18, 23, 33a, 42; table 4",
            _SECOND,
        ),
        "iso_2533_1975": _source("Standard Atmosphere, ISO 2533", "1975", "clause 2", _NOT),
        "iapws_if97": _source(
            "Revised Release on the IAPWS Industrial Formulation 1997 for Water and Steam, R7-97",
            "2012",
            "equations 30 and 31, tables 34 to 36, in other projects' published code and tests",
            _SECOND,
        ),
        "iapws_r14_2011": _source(
            "Pressure along the Melting and Sublimation Curves of Ordinary Water, IAPWS R14-08",
            "2011",
            "equation 6, table 3, in other projects' published code and tests",
            _SECOND,
        ),
        # Fuels
        "afdc_properties": _source(
            "Properties of Fuels, US DOE Alternative Fuels Data Center", "undated copy", "table", _SECOND
        ),
        "cfr_40_98_c1": _source(
            "40 CFR Part 98, Mandatory Greenhouse Gas Reporting", "subpart C", "table C-1", _SECOND
        ),
        "astm_d1250": _source(
            "Guide for Petroleum Measurement Tables, ASTM D1250 / API MPMS 11.1",
            "1980",
            "generalised products, K0 and K1 as written in several published programs",
            _SECOND,
        ),
        "astm_d341": _source(
            "Viscosity-Temperature Charts for Liquid Petroleum Products, ASTM D341",
            "2009",
            "equation and annex A1",
            _SECOND,
        ),
        "astm_d7152": _source(
            "Calculating Viscosity of a Blend of Petroleum Products, ASTM D7152",
            "2011",
            "procedure A",
            _MEMORY,
        ),
        "astm_d4868": _source(
            "Estimation of Net and Gross Heat of Combustion of Burner and Diesel Fuels, ASTM D4868",
            "2000",
            "equation for gross heat",
            _MEMORY,
        ),
        "channiwala_2002": _source(
            "Channiwala and Parikh, A unified correlation for estimating HHV of fuels",
            "Fuel 81 (2002) 1051",
            "unified correlation",
            _MEMORY,
        ),
        "cfr_40_1090": _source(
            "40 CFR Part 1090, fuel quality standards", "subpart D", "1090.305, 15 ppm of sulphur", _SECOND
        ),
        "eu_2016_802": _source(
            "Directive (EU) 2016/802, sulphur content of certain liquid fuels",
            "2016",
            "gas oil: 0.10 % by mass",
            _MEMORY,
        ),
        "astm_d6751": _source(
            "Biodiesel Fuel Blend Stock (B100), ASTM D6751", "no edition", "grade S15", _MEMORY
        ),
        # Flue gas
        "cfr_40_60_method_19": _source(
            "40 CFR Part 60, appendix A-7, Method 19", "current", "equations 19-1 to 19-16, table 19-2", _NOT
        ),
        "cfr_40_75_f": _source("40 CFR Part 75", "appendix F", "table 1, F factors", _SECOND),
        "cfr_40_60_284": _source(
            "40 CFR 60.284", "subpart BB", "correction to a chosen oxygen content", _SECOND
        ),
        "epa_method_3b": _source(
            "40 CFR Part 60, appendix A-2, Method 3B", "current", "fuel factor Fo, table 3B-1", _MEMORY
        ),
        "siegert": _source(
            "Flue loss by Siegert's formula with the constants of the German 1. BImSchV",
            "undated page of a district chimney sweep",
            "fuel oil: A2 = 0.68, B = 0.007",
            _SECOND,
        ),
        "verhoff_1974": _source(
            "Verhoff and Banchero, Predicting dew points of flue gases",
            "Chemical Engineering Progress 70 (1974) 71",
            "equation for sulphuric acid, as quoted on several engineers' pages",
            _SECOND,
        ),
        "okkes_1987": _source(
            "Okkes, Get acid dew point of flue gas",
            "Hydrocarbon Processing, July 1987, 53",
            "equation, as quoted on an engineers' forum",
            _SECOND,
        ),
        "epa_ap42_1_3": _source(
            "Compilation of Air Pollutant Emission Factors, AP-42", "5th edition", "section 1.3.3.2", _MEMORY
        ),
        "opentype_cmap": _source(
            "OpenType specification", "1.9", "cmap table, subtable formats 4 and 12", _MEMORY
        ),
        "element_balance": _source(
            "Conservation of atoms", "no edition", "derived in the docstring, no source needed", _FIRST
        ),
        "energy_balance": _source(
            "Conservation of energy", "no edition", "derived in the docstring, no source needed", _FIRST
        ),
        "ideal_gas": _source("Ideal gas law", "no edition", "pV = nRT", _FIRST),
        "fan_laws": _source(
            "Fan affinity laws: volume flow follows speed, pressure follows density",
            "common practice, no source",
            "",
            _MEMORY,
        ),
        # Fan, fuel line, nozzle, igniter, heat exchanger, wiring
        "motor_law": _source(
            "Permanent-magnet motor: speed follows the volts behind the winding, current follows torque",
            "no edition",
            "V = k w + I R, torque = k I, derived in the docstring",
            _FIRST,
        ),
        "hagen_poiseuille": _source(
            "Laminar flow in a round tube", "no edition", "dp = 128 mu L Q / (pi d^4)", _FIRST
        ),
        "henry_law": _source(
            "Henry's law: dissolved gas follows the gas's pressure", "no edition", "as used", _FIRST
        ),
        "astm_d2779": _source(
            "Estimation of Solubility of Gases in Petroleum Liquids, ASTM D2779",
            "1992 (2020)",
            "table 1, air; scope and summary were read, the table was not",
            _MEMORY,
        ),
        "orifice_law": _source(
            "Flow through an opening follows the root of pressure over density", "no edition", "", _FIRST
        ),
        "isentropic_flow": _source(
            "One-dimensional isentropic flow of an ideal gas through a throat",
            "no edition",
            "NACA Report 1135 (1953), equations 43 to 48, not seen; derived from the energy balance",
            _FIRST,
        ),
        "lefebvre_plain_jet": _source(
            "Rizk and Lefebvre, Spray characteristics of plain-jet airblast atomizers",
            "Journal of Engineering for Gas Turbines and Power 106 (1984) 634",
            "drop-size equation, as written in two independent published programs; the paper's abstract "
            "was read, its equation was not",
            _SECOND,
        ),
        "d_square_law": _source(
            "d-square law: the square of a drop's diameter shrinks evenly", "no edition", "", _SECOND
        ),
        "radiation_balance": _source(
            "Balance of heat with Stefan and Boltzmann's law and a constant film", "no edition", "", _FIRST
        ),
        "heat_exchanger": _source(
            "Balance of heat along an exchanger, effectiveness and number of transfer units",
            "no edition",
            "checked with transcribed examples of Incropera and DeWitt, chapters 1 and 11",
            _SECOND,
        ),
        "nbs_handbook_100": _source(
            "Copper Wire Tables, NBS Handbook 100",
            "1966",
            "standard values of resistivity and temperature coefficient, as quoted in published programs",
            _SECOND,
        ),
        "ohm_law": _source("Ohm's and Kirchhoff's laws", "no edition", "", _FIRST),
        # Limits
        "eu_2001_56": _source(
            "Directive 2001/56/EC on heating systems for motor vehicles (as UN Regulation No. 122)",
            "2001",
            "annexes IV, VI and VII; their numbers were looked for a second time and not found",
            _NOT,
        ),
        "astm_d2156": _source(
            "ASTM D2156, Smoke density in flue gases from burning distillate fuels",
            "2009 (2018)",
            "ten spots, each darker by a tenth of the light of white paper; precision of half a spot",
            _MEMORY,
        ),
        # Light and colour of photographs
        "iec_61966_2_1": _source(
            "IEC 61966-2-1, Multimedia systems and equipment, colour measurement and management: sRGB",
            "1999",
            "transfer function and primaries",
            _MEMORY,
        ),
        "iso_cie_11664_4": _source(
            "ISO/CIE 11664-4, Colorimetry: CIE 1976 L*a*b* colour space", "2019", "definition", _MEMORY
        ),
        "who_air_quality_2000": _source(
            "WHO Air Quality Guidelines for Europe",
            "2nd edition, 2000",
            "carbon monoxide, as tabled in doi 10.1186/s12995-018-0214-9",
            _SECOND,
        ),
        "niosh_co": _source(
            "NIOSH recommended exposure limit for carbon monoxide",
            "1972 criteria document",
            "as quoted by OSHA's sampling page CH_225610",
            _SECOND,
        ),
        "osha_co": _source(
            "OSHA permissible exposure limit for carbon monoxide",
            "29 CFR 1910.1000",
            "as quoted by OSHA's sampling page CH_225610",
            _SECOND,
        ),
        # Wear: lives, replacement, drift, spares
        "nist_handbook_2012": _source(
            "NIST/SEMATECH e-Handbook of Statistical Methods", "2012", "chapter 8, reliability", _SECOND
        ),
        "meeker_1998": _source(
            "Statistical Methods for Reliability Data (Meeker, Escobar)",
            "1st edition, 1998",
            "censored and truncated lives, likelihood-ratio intervals",
            _MEMORY,
        ),
        "duchesne_2000": _source(
            "Alternative time scales and failure time models (Duchesne, Lawless), Lifetime Data Analysis 6",
            "2000",
            "linear combinations of time scales",
            _MEMORY,
        ),
        "barlow_proschan_1965": _source(
            "Mathematical Theory of Reliability (Barlow, Proschan)", "1965", "chapter 4, replacement", _MEMORY
        ),
        "kaplan_meier_1958": _source(
            "Nonparametric estimation from incomplete observations (Kaplan, Meier), J. Am. Stat. Assoc. 53",
            "1958",
            "product limit and its variance after Greenwood",
            _MEMORY,
        ),
        "nelson_1972": _source(
            "Theory and applications of hazard plotting (Nelson), Technometrics 14",
            "1972",
            "cumulative hazard",
            _MEMORY,
        ),
        "aalen_johansen_1978": _source(
            "An empirical transition matrix (Aalen, Johansen), Scand. J. Statistics 5",
            "1978",
            "cumulative incidence",
            _MEMORY,
        ),
        "marubini_valsecchi_1995": _source(
            "Analysing Survival Data from Clinical Trials and Observational Studies (Marubini, Valsecchi)",
            "1995",
            "variance of the cumulative incidence",
            _MEMORY,
        ),
        "lawless_nadeau_1995": _source(
            "Some simple robust methods for the analysis of recurrent events (Lawless, Nadeau)",
            "Technometrics 37, 1995",
            "mean cumulative function and its robust variance",
            _MEMORY,
        ),
        "ascher_feingold_1984": _source(
            "Repairable Systems Reliability (Ascher, Feingold)", "1984", "Laplace's test of trend", _MEMORY
        ),
        "brook_evans_1972": _source(
            "An approach to the probability distribution of CUSUM run length (Brook, Evans), Biometrika 59",
            "1972",
            "run lengths, as quoted in the manual of R's package spc",
            _SECOND,
        ),
        "lucas_crosier_1982": _source(
            "Fast initial response for CUSUM quality-control schemes (Lucas, Crosier), Technometrics 24",
            "1982",
            "table 1, as quoted in the manual of R's package spc; head start from memory",
            _SECOND,
        ),
        "fieller_1954": _source(
            "Some problems in interval estimation (Fieller), J. Royal Statistical Society B 16",
            "1954",
            "interval of a ratio",
            _MEMORY,
        ),
        "sherbrooke_2004": _source(
            "Optimal Inventory Modeling of Systems (Sherbrooke)",
            "2nd edition, 2004",
            "expected backorders, marginal analysis",
            _MEMORY,
        ),
        "common_practice": _source("Common practice, no source", "", "", _MEMORY),
        "maker_data_sheet": _source("The fuel supplier's data sheet", "as entered by the user", "", _NOT),
        "computed_blend": _source(
            "Mixed from the parts' values by mass or volume share",
            "no edition",
            "lightoff.physics.fuel",
            _FIRST,
        ),
    }
)


def source(key: str) -> Source:
    """The source of this key. Raises KeyError with the key for an unknown one."""
    return SOURCES[key]
