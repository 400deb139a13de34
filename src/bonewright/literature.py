"""Publications by key, and constants as a table: name, unit, value, key, page.

``status`` says how far the entry was checked: ``seen`` (read in the stored text),
``secondary`` (read in a page quoting it), ``recomputed``, ``from memory``, or
``common practice`` (a rule of the trade without a publication).
"""

from dataclasses import dataclass

__all__ = ["CONSTANTS", "PUBLICATIONS", "Constant", "Publication", "cite", "constant"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """One source of a method or value."""

    key: str
    citation: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One published or conventional value. ``low`` and ``high`` bound it where stated."""

    name: str
    unit: str
    value: float
    low: float | None
    high: float | None
    source: str
    page: str
    status: str


def _publication(key: str, citation: str, status: str = "from memory") -> tuple[str, Publication]:
    return key, Publication(key=key, citation=citation, status=status)


PUBLICATIONS: dict[str, Publication] = dict(
    (
        _publication(
            "Driesch1976",
            "von den Driesch, A. 1976. A guide to the measurement of animal bones from"
            " archaeological sites. Peabody Museum Bulletin 1.",
            "contents seen; meanings of codes from memory",
        ),
        _publication(
            "Darwin Core",
            "Darwin Core Maintenance Group. Darwin Core terms, TDWG standard.",
        ),
        _publication(
            "DataPackage2",
            "Frictionless Data. Data Package specification, version 2.",
        ),
        _publication(
            "RoarkYoung",
            "Young, W. C. & Budynas, R. G. Roark's formulas for stress and strain: beams,"
            " columns, properties of sections. McGraw-Hill.",
        ),
        _publication(
            "Gilmore1961",
            "Gilmore, P. C. & Gomory, R. E. 1961. A linear programming approach to the"
            " cutting-stock problem. Operations Research 9: 849-859.",
        ),
        _publication(
            "Mann1945",
            "Mann, H. B. 1945. Nonparametric tests against trend. Econometrica 13: 245-259.",
        ),
        _publication(
            "Kendall1975",
            "Kendall, M. G. 1975. Rank correlation methods, 4th edition. Griffin, London.",
        ),
        _publication(
            "Sen1968",
            "Sen, P. K. 1968. Estimates of the regression coefficient based on Kendall's "
            "tau. Journal of the American Statistical Association 63: 1379-1389.",
        ),
        _publication(
            "Dryden1998",
            "Dryden, I. L. & Mardia, K. V. 1998. Statistical shape analysis. Wiley, Chichester.",
        ),
        _publication(
            "Kass1995",
            "Kass, R. E. & Raftery, A. E. 1995. Bayes factors. Journal of the American "
            "Statistical Association 90: 773-795.",
        ),
        _publication(
            "Smith1975",
            "Smith, A. F. M. 1975. A Bayesian approach to inference about a change-point in "
            "a sequence of random variables. Biometrika 62: 407-416.",
        ),
        _publication(
            "Gelman2013",
            "Gelman, A. et al. 2013. Bayesian data analysis, 3rd edition. CRC Press, Boca Raton.",
        ),
        _publication(
            "Allen1974",
            "Allen, D. M. 1974. The relationship between variable selection and data "
            "augmentation and a method for prediction. Technometrics 16: 125-127.",
        ),
        _publication(
            "Cohen1968",
            "Cohen, J. 1968. Weighted kappa: nominal scale agreement with provision for "
            "scaled disagreement or partial credit. Psychological Bulletin 70: 213-220.",
        ),
        _publication(
            "Krippendorff2004",
            "Krippendorff, K. 2004. Content analysis: an introduction to its methodology, "
            "2nd edition. Sage, Thousand Oaks.",
        ),
        _publication(
            "UlijaszekKerr1999",
            "Ulijaszek, S. J. & Kerr, D. A. 1999. Anthropometric measurement error and the"
            " assessment of nutritional status. British Journal of Nutrition 82: 165-177.",
            "formula seen in a later software manual",
        ),
        _publication(
            "Meadow1999",
            "Meadow, R. H. 1999. The use of size index scaling techniques for research on"
            " archaeozoological collections from the Middle East. In: Historia Animalium ex"
            " Ossibus (C. Becker et al., eds): 285-300. Leidorf, Rahden.",
        ),
        _publication(
            "White1953",
            "White, T. E. 1953. A method of calculating the dietary percentage of various food"
            " animals utilized by aboriginal peoples. American Antiquity 18: 396-398.",
        ),
        _publication("Kish1965", "Kish, L. 1965. Survey Sampling. Wiley, New York."),
        _publication(
            "Baskerville1972",
            "Baskerville, G. L. 1972. Use of logarithmic regression in the estimation of plant"
            " biomass. Canadian Journal of Forest Research 2: 49-53.",
            "form seen quoted",
        ),
        _publication(
            "Sprugel1983",
            "Sprugel, D. G. 1983. Correcting for bias in log-transformed allometric equations."
            " Ecology 64: 209-210.",
            "form seen quoted",
        ),
        _publication(
            "Duan1983",
            "Duan, N. 1983. Smearing estimate: a nonparametric retransformation method."
            " Journal of the American Statistical Association 78: 605-610.",
        ),
        _publication(
            "Smith1993",
            "Smith, R. J. 1993. Logarithmic transformation bias in allometry. American Journal"
            " of Physical Anthropology 90: 215-228.",
        ),
        _publication(
            "Smith1984",
            "Smith, R. J. 1984. Allometric scaling in comparative biology: problems of concept"
            " and method. American Journal of Physiology 246: R152-R160.",
        ),
        _publication(
            "DraperSmith1998",
            "Draper, N. R. & Smith, H. 1998. Applied regression analysis, third edition. Wiley.",
        ),
        _publication(
            "CampbellMarcus1992",
            "Campbell, K. E. & Marcus, L. 1992. The relationship of hindlimb bone dimensions to"
            " body weight in birds. Natural History Museum of Los Angeles County Science Series"
            " 36: 395-412.",
            "coefficients from memory",
        ),
        _publication(
            "Alexander1985",
            "Alexander, R. McN. 1985. Mechanics of posture and gait of some large dinosaurs."
            " Zoological Journal of the Linnean Society 83: 1-25.",
        ),
        _publication(
            "Alexander1989",
            "Alexander, R. McN. 1989. Dynamics of dinosaurs and other extinct giants. Columbia"
            " University Press.",
        ),
        _publication(
            "Alexander1976",
            "Alexander, R. McN. 1976. Estimates of speeds of dinosaurs. Nature 261: 129-130.",
            "formula seen quoted; sign of the last power recovered",
        ),
        _publication(
            "AlexanderMaloiy1979",
            "Alexander, R. McN., Maloiy, G. M. O., Hunter, B., Jayes, A. S. & Nturibi, J. 1979."
            " Mechanical stresses in fast locomotion of buffalo and elephant. Journal of Zoology"
            " 189: 135-144.",
        ),
        _publication(
            "Farlow1995",
            "Farlow, J. O., Smith, M. B. & Robinson, J. M. 1995. Body mass, bone 'strength"
            " indicator', and cursorial potential of Tyrannosaurus rex. Journal of Vertebrate"
            " Paleontology 15: 713-725.",
            "values read in a page that quotes them",
        ),
        _publication(
            "Biewener1982",
            "Biewener, A. A. 1982. Bone strength in small mammals and bipedal birds: do safety"
            " factors change with body size? Journal of Experimental Biology 98: 289-301.",
            "233 +/- 53 MPa seen in the abstract",
        ),
        _publication(
            "Silverman1986",
            "Silverman, B. W. 1986. Density estimation for statistics and data analysis. Chapman"
            " and Hall.",
        ),
        _publication(
            "Roark",
            "Young, W. C. & Budynas, R. G. Roark's formulas for stress and strain, table of"
            " properties of sections.",
        ),
        _publication(
            "TimoshenkoGoodier1970",
            "Timoshenko, S. P. & Goodier, J. N. 1970. Theory of elasticity, third edition."
            " McGraw-Hill.",
        ),
        _publication(
            "Otsu1979",
            "Otsu, N. 1979. A threshold selection method from gray-level histograms. IEEE"
            " Transactions on Systems, Man, and Cybernetics 9: 62-66.",
        ),
        _publication(
            "Crofton",
            "Santaló, L. A. 1976. Integral geometry and geometric probability. Addison-Wesley"
            " (Crofton's formula).",
        ),
        _publication(
            "Pettitt1979",
            "Pettitt, A. N. 1979. A non-parametric approach to the change-point problem."
            " Applied Statistics 28: 126-135.",
            "formula seen quoted",
        ),
        _publication(
            "PauleMandel1982",
            "Paule, R. C. & Mandel, J. 1982. Consensus values and weighting factors. Journal of"
            " Research of the National Bureau of Standards 87: 377-385.",
        ),
        _publication(
            "CurreyAlexander1985",
            "Currey, J. D. & Alexander, R. McN. 1985. The thickness of the walls of tubular bones."
            " Journal of Zoology A 206: 453-468.",
            "definition of K seen in the abstract",
        ),
        _publication(
            "DerSimonianLaird1986",
            "DerSimonian, R. & Laird, N. 1986. Meta-analysis in clinical trials. Controlled"
            " Clinical Trials 7: 177-188.",
        ),
        _publication(
            "HigginsThompson2002",
            "Higgins, J. P. T. & Thompson, S. G. 2002. Quantifying heterogeneity in a"
            " meta-analysis. Statistics in Medicine 21: 1539-1558.",
        ),
        _publication(
            "Birge1932",
            "Birge, R. T. 1932. The calculation of errors by the method of least squares."
            " Physical Review 40: 207-227.",
        ),
        _publication(
            "BoxTiao1968",
            "Box, G. E. P., Tiao, G. C. 1968. A Bayesian approach to some outlier problems."
            " Biometrika 55: 119-129.",
        ),
        _publication(
            "KnappHartung2003",
            "Knapp, G., Hartung, J. 2003. Improved tests for a random effects meta-regression with"
            " a single covariate. Statistics in Medicine 22: 2693-2710.",
        ),
        _publication(
            "Shapley1953",
            "Shapley, L. S. 1953. A value for n-person games. In: Contributions to the theory of"
            " games II (eds Kuhn, H. W., Tucker, A. W.), 307-317. Princeton University Press.",
        ),
        _publication(
            "Viechtbauer2005",
            "Viechtbauer, W. 2005. Bias and efficiency of meta-analytic variance estimators in the"
            " random-effects model. Journal of Educational and Behavioral Statistics 30: 261-293.",
        ),
        _publication(
            "Viechtbauer2007",
            "Viechtbauer, W. 2007. Confidence intervals for the amount of heterogeneity in"
            " meta-analysis. Statistics in Medicine 26: 37-52.",
        ),
        _publication(
            "Flesch1948",
            "Flesch, R. 1948. A new readability yardstick. Journal of Applied Psychology 32:"
            " 221-233.",
        ),
        _publication(
            "Kincaid1975",
            "Kincaid, J. P., Fishburne, R. P., Rogers, R. L., Chissom, B. S. 1975. Derivation of"
            " new readability formulas for Navy enlisted personnel. Research Branch Report 8-75.",
        ),
        _publication(
            "Gelman2006",
            "Gelman, A. 2006. Prior distributions for variance parameters in hierarchical models."
            " Bayesian Analysis 1: 515-534.",
        ),
        _publication(
            "GUM2008",
            "JCGM 100:2008. Evaluation of measurement data: guide to the expression of"
            " uncertainty in measurement.",
        ),
        _publication(
            "LiuRubinWu1998",
            "Liu, C., Rubin, D. B. & Wu, Y. N. 1998. Parameter expansion to accelerate EM: the"
            " PX-EM algorithm. Biometrika 85: 755-770.",
        ),
        _publication(
            "DempsterLairdRubin1977",
            "Dempster, A. P., Laird, N. M. & Rubin, D. B. 1977. Maximum likelihood from"
            " incomplete data via the EM algorithm. Journal of the Royal Statistical Society"
            " B 39: 1-38.",
        ),
        _publication(
            "Anderson1957",
            "Anderson, T. W. 1957. Maximum likelihood estimates for a multivariate normal"
            " distribution when some observations are missing. Journal of the American"
            " Statistical Association 52: 200-203.",
        ),
        _publication(
            "McLachlan1987",
            "McLachlan, G. J. 1987. On bootstrapping the likelihood ratio test statistic for"
            " the number of components in a normal mixture. Applied Statistics 36: 318-324.",
        ),
        _publication(
            "Lange1989",
            "Lange, K. L., Little, R. J. A. & Taylor, J. M. G. 1989. Robust statistical modeling"
            " using the t distribution. Journal of the American Statistical Association 84:"
            " 881-896.",
        ),
        _publication(
            "NocedalWright2006",
            "Nocedal, J. & Wright, S. J. 2006. Numerical optimization, 2nd edition. Springer.",
        ),
        _publication(
            "Anderson1985",
            "Anderson, J. F., Hall-Martin, A. & Russell, D. A. 1985. Long-bone circumference and"
            " weight in mammals, birds and dinosaurs. Journal of Zoology 207: 53-61.",
        ),
        _publication(
            "Campione2014",
            "Campione, N. E., Evans, D. C., Brown, C. M. & Carrano, M. T. 2014. Body mass"
            " estimation in non-avian bipeds using a theoretical conversion to quadruped"
            " stylopodial proportions. Methods in Ecology and Evolution 5: 913-923.",
        ),
        _publication(
            "ChristiansenFarina2004",
            "Christiansen, P. & Farina, R. A. 2004. Mass prediction in theropod dinosaurs."
            " Historical Biology 16: 85-92.",
        ),
        _publication(
            "Felsenstein1985",
            "Felsenstein, J. 1985. Phylogenies and the comparative method. American Naturalist"
            " 125: 1-15.",
            "method seen described",
        ),
        _publication(
            "Grafen1989",
            "Grafen, A. 1989. The phylogenetic regression. Philosophical Transactions of the"
            " Royal Society B 326: 119-157.",
        ),
        _publication(
            "MartinsHansen1997",
            "Martins, E. P. & Hansen, T. F. 1997. Phylogenies and the comparative method."
            " American Naturalist 149: 646-667.",
        ),
        _publication(
            "Pagel1999",
            "Pagel, M. 1999. Inferring the historical patterns of biological evolution. Nature"
            " 401: 877-884.",
        ),
        _publication(
            "GarlandIves2000",
            "Garland, T. & Ives, A. R. 2000. Using the past to predict the present: confidence"
            " intervals for regression equations in phylogenetic comparative methods. American"
            " Naturalist 155: 346-364.",
            "formula from memory; claims seen",
        ),
        _publication(
            "Ives2007",
            "Ives, A. R., Midford, P. E. & Garland, T. 2007. Within-species variation and"
            " measurement error in phylogenetic comparative methods. Systematic Biology 56:"
            " 252-270.",
        ),
        _publication(
            "HoAne2014",
            "Ho, L. S. T. & Ané, C. 2014. A linear-time algorithm for Gaussian and non-Gaussian"
            " trait evolution models. Systematic Biology 63: 397-408.",
        ),
        _publication(
            "Dubrule1983",
            "Dubrule, O. 1983. Cross validation of kriging in a unique neighborhood."
            " Mathematical Geology 15: 687-699.",
        ),
        _publication(
            "Brent1973",
            "Brent, R. P. 1973. Algorithms for minimization without derivatives. Prentice-Hall.",
        ),
        _publication(
            "Warton2006",
            "Warton, D. I., Wright, I. J., Falster, D. S. & Westoby, M. 2006. Bivariate"
            " line-fitting methods for allometry. Biological Reviews 81: 259-291.",
            "formulas from memory; results agree with two packages",
        ),
        _publication(
            "Jolicoeur1973",
            "Jolicoeur, P. 1973. Imaginary confidence limits of the slope of the major axis of a"
            " bivariate normal distribution. Journal of the American Statistical Association"
            " 68: 866-871.",
        ),
        _publication(
            "Sellers2012",
            "Sellers, W. I., Hepworth-Bell, J., Falkingham, P. L., Bates, K. T., Brassey, C. A.,"
            " Egerton, V. M. & Manning, P. L. 2012. Minimum convex hull mass estimations of"
            " complete mounted skeletons. Biology Letters 8: 842-845.",
            "21 % and n = 14 seen; multiplier 1.21 from memory",
        ),
        _publication(
            "LasiewskiCalder1971",
            "Lasiewski, R. C. & Calder, W. A. 1971. A preliminary allometric analysis of"
            " respiratory variables in resting birds. Respiration Physiology 11: 152-166.",
        ),
        _publication(
            "WalsbergKing1978",
            "Walsberg, G. E. & King, J. R. 1978. The relationship of the external surface area of"
            " birds to skin surface area and body mass. Journal of Experimental Biology 76:"
            " 185-189.",
            "10 m^(2/3) and 23 % seen on the first page",
        ),
        _publication(
            "Turcek1966",
            "Turček, F. J. 1966. On plumage quantity in birds. Ekologia Polska A 14: 617-634.",
        ),
        _publication(
            "LasiewskiDawson1967",
            "Lasiewski, R. C. & Dawson, W. R. 1967. A re-examination of the relation between"
            " standard metabolic rate and body weight in birds. Condor 69: 13-23.",
            "paper seen; non-passerine coefficients from memory",
        ),
        _publication(
            "AschoffPohl1970",
            "Aschoff, J. & Pohl, H. 1970. Der Ruheumsatz von Vögeln als Funktion der Tageszeit und"
            " der Körpergröße. Journal für Ornithologie 111: 38-47.",
        ),
        _publication(
            "McNab2009",
            "McNab, B. K. 2009. Ecological factors affect the level and scaling of avian BMR."
            " Comparative Biochemistry and Physiology A 152: 22-45.",
        ),
        _publication(
            "SvalbardPtarmigan",
            "Energetics and adaptations to cold in ptarmigan in winter. Ornis Scandinavica; and"
            " on rock ptarmigan in Norway, Ornis Scandinavica 16: 25-28 (1985).",
            "abstracts seen",
        ),
        _publication(
            "HawksWilliams1986",
            "Hawks, C. & Williams, S. 1986. Arsenic in natural history collections.",
            "secondary",
        ),
    )
)

CONSTANTS: dict[str, Constant] = {
    entry.name: entry
    for entry in (
        Constant(
            name="standard gravity",
            unit="m/s2",
            value=9.80665,
            low=None,
            high=None,
            source="GUM2008",
            page="3rd CGPM (1901), by convention",
            status="from memory",
        ),
    )
}


def cite(key: str) -> str:
    """Return the citation behind a key of :data:`PUBLICATIONS`."""
    return PUBLICATIONS[key].citation


def constant(name: str) -> float:
    """Return the value of a named constant, in the unit its table row states."""
    return CONSTANTS[name].value
