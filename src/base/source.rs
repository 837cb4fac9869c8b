//! The bibliography: every published work that a formula or a default stands on, as data.

use serde::Serialize;

/// Key of a work in [`WORKS`].
pub type SourceKey = &'static str;

/// A published work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Work {
    pub key: SourceKey,
    pub citation: &'static str,
}

const fn work(key: SourceKey, citation: &'static str) -> Work {
    Work { key, citation }
}

/// The works, by key.
pub const WORKS: &[Work] = &[
    work("agresti-2002", "Agresti A. (2002) Categorical Data Analysis, 2nd ed. Wiley."),
    work(
        "agresti-coull-1998",
        "Agresti A., Coull B.A. (1998) Approximate is better than exact for interval estimation of binomial proportions. Am. Stat. 52:119-126.",
    ),
    work(
        "albert-anderson-1984",
        "Albert A., Anderson J.A. (1984) On the existence of maximum likelihood estimates in logistic regression models. Biometrika 71:1-10.",
    ),
    work(
        "armitage-1955",
        "Armitage P. (1955) Tests for linear trends in proportions and frequencies. Biometrics 11:375-386.",
    ),
    work(
        "bates-2015",
        "Bates D., Maechler M., Bolker B., Walker S. (2015) Fitting linear mixed-effects models using lme4. J. Stat. Softw. 67(1):1-48.",
    ),
    work(
        "benjamini-hochberg-1995",
        "Benjamini Y., Hochberg Y. (1995) Controlling the false discovery rate. J. R. Stat. Soc. B 57:289-300.",
    ),
    work(
        "benjamini-yekutieli-2001",
        "Benjamini Y., Yekutieli D. (2001) The control of the false discovery rate in multiple testing under dependency. Ann. Stat. 29:1165-1188.",
    ),
    work("besag-clifford-1991", "Besag J., Clifford P. (1991) Sequential Monte Carlo p-values. Biometrika 78:301-304."),
    work(
        "bioletti-1922",
        "Bioletti F.T. (1922) Replacing Missing Vines. Univ. California Agr. Exp. Sta. Circular 249.",
    ),
    work("brealey-myers-1981", "Brealey R., Myers S. (1981) Principles of Corporate Finance. McGraw-Hill."),
    work(
        "breslow-clayton-1993",
        "Breslow N.E., Clayton D.G. (1993) Approximate inference in generalized linear mixed models. J. Am. Stat. Assoc. 88:9-25.",
    ),
    work(
        "breslow-day-1980",
        "Breslow N.E., Day N.E. (1980) Statistical Methods in Cancer Research 1: The Analysis of Case-Control Studies. IARC.",
    ),
    work(
        "brown-cai-dasgupta-2001",
        "Brown L.D., Cai T.T., DasGupta A. (2001) Interval estimation for a binomial proportion. Stat. Sci. 16:101-133.",
    ),
    work(
        "chiuchiolo-2022",
        "Chiuchiolo C., van Niekerk J., Rue H. (2022) Joint posterior inference for latent Gaussian models with R-INLA. J. Stat. Comput. Simul. 93:723-752.",
    ),
    work("cliff-ord-1981", "Cliff A.D., Ord J.K. (1981) Spatial Processes: Models and Applications. Pion."),
    work(
        "clopper-pearson-1934",
        "Clopper C.J., Pearson E.S. (1934) The use of confidence or fiducial limits illustrated in the case of the binomial. Biometrika 26:404-413.",
    ),
    work(
        "commenges-1997",
        "Commenges D., Jacqmin-Gadda H. (1997) Generalized score test of homogeneity based on correlated random effects models. J. R. Stat. Soc. B 59:157-171.",
    ),
    work(
        "copenhaver-holland-1988",
        "Copenhaver M.D., Holland B. (1988) Computation of the distribution of the maximum studentized range statistic with application to multiple significance testing of simple effects. J. Stat. Comput. Simul. 30:1-15.",
    ),
    work(
        "cornfield-1956",
        "Cornfield J. (1956) A statistical problem arising from retrospective studies. Proc. 3rd Berkeley Symp. 4:135-148.",
    ),
    work("crowder-1978", "Crowder M.J. (1978) Beta-binomial anova for proportions. Appl. Stat. 27:34-37."),
    work(
        "davison-hinkley-1997",
        "Davison A.C., Hinkley D.V. (1997) Bootstrap Methods and their Application. Cambridge University Press.",
    ),
    work(
        "diciccio-martin-1991",
        "DiCiccio T.J., Martin M.A. (1991) Approximations of marginal tail probabilities for a class of smooth functions with applications to Bayesian and conditional inference. Biometrika 78:891-902.",
    ),
    work(
        "donner-klar-2000",
        "Donner A., Klar N. (2000) Design and Analysis of Cluster Randomization Trials in Health Research. Arnold.",
    ),
    work("firth-1993", "Firth D. (1993) Bias reduction of maximum likelihood estimates. Biometrika 80:27-38."),
    work("fisher-1935", "Fisher R.A. (1935) The logic of inductive inference. J. R. Stat. Soc. 98:39-82."),
    work("fleiss-1981", "Fleiss J.L. (1981) Statistical Methods for Rates and Proportions, 2nd ed. Wiley."),
    work(
        "freeman-halton-1951",
        "Freeman G.H., Halton J.H. (1951) Note on an exact treatment of contingency, goodness of fit and other problems of significance. Biometrika 38:141-149.",
    ),
    work(
        "gart-zweifel-1967",
        "Gart J.J., Zweifel J.R. (1967) On the bias of various estimators of the logit and its variance with application to quantal bioassay. Biometrika 54:181-187.",
    ),
    work(
        "gelman-2013",
        "Gelman A., Carlin J.B., Stern H.S., Dunson D.B., Vehtari A., Rubin D.B. (2013) Bayesian Data Analysis, 3rd ed. Chapman & Hall/CRC.",
    ),
    work(
        "golub-1965",
        "Golub G. (1965) Numerical methods for solving linear least squares problems. Numer. Math. 7:206-216.",
    ),
    work(
        "gramaje-armengol-2011",
        "Gramaje D., Armengol J. (2011) Fungal trunk pathogens in the grapevine propagation process: potential inoculum sources, detection, identification, and management strategies. Plant Dis. 95:1040-1055 (abstract read).",
    ),
    work(
        "halleen-2003",
        "Halleen F., Crous P.W., Petrini O. (2003) Fungi associated with healthy grapevine cuttings in nurseries, with special reference to pathogens involved in the decline of young vines. Australas. Plant Pathol. 32:47-52 (abstract read; title and pages from memory).",
    ),
    work(
        "hayes-bennett-1999",
        "Hayes R.J., Bennett S. (1999) Simple sample size calculation for cluster-randomized trials. Int. J. Epidemiol. 28:319-326.",
    ),
    work(
        "heinze-schemper-2002",
        "Heinze G., Schemper M. (2002) A solution to the problem of separation in logistic regression. Stat. Med. 21:2409-2419.",
    ),
    work(
        "hestenes-stiefel-1952",
        "Hestenes M.R., Stiefel E. (1952) Methods of conjugate gradients for solving linear systems. J. Res. Natl. Bur. Stand. 49:409-436.",
    ),
    work(
        "hochberg-1988",
        "Hochberg Y. (1988) A sharper Bonferroni procedure for multiple tests of significance. Biometrika 75:800-802.",
    ),
    work(
        "holm-1979",
        "Holm S. (1979) A simple sequentially rejective multiple test procedure. Scand. J. Stat. 6:65-70.",
    ),
    work(
        "hommel-1988",
        "Hommel G. (1988) A stagewise rejective multiple test procedure based on a modified Bonferroni test. Biometrika 75:383-386.",
    ),
    work("hotelling-1931", "Hotelling H. (1931) The generalization of Student's ratio. Ann. Math. Stat. 2:360-378."),
    work("ionides-2008", "Ionides E.L. (2008) Truncated importance sampling. J. Comput. Graph. Stat. 17:295-311."),
    work(
        "john-williams-1995",
        "John J.A., Williams E.R. (1995) Cyclic and Computer Generated Designs, 2nd ed. Chapman & Hall.",
    ),
    work(
        "katz-1978",
        "Katz D., Baptista J., Azen S.P., Pike M.C. (1978) Obtaining confidence intervals for the risk ratio in cohort studies. Biometrics 34:469-474.",
    ),
    work(
        "kosmidis-firth-2021",
        "Kosmidis I., Firth D. (2021) Jeffreys-prior penalty, finiteness and shrinkage in binomial-response generalized linear models. Biometrika 108:71-82.",
    ),
    work(
        "kramer-1956",
        "Kramer C.Y. (1956) Extension of multiple range tests to group means with unequal numbers of replications. Biometrics 12:307-310.",
    ),
    work("kulldorff-1997", "Kulldorff M. (1997) A spatial scan statistic. Commun. Stat. Theory Methods 26:1481-1496."),
    work(
        "lancaster-1961",
        "Lancaster H.O. (1961) Significance tests in discrete distributions. J. Am. Stat. Assoc. 56:223-234.",
    ),
    work(
        "landis-1978",
        "Landis J.R., Heyman E.R., Koch G.G. (1978) Average partial association in three-way contingency tables: a review and discussion of alternative tests. Int. Stat. Rev. 46:237-254.",
    ),
    work(
        "lane-nelder-1982",
        "Lane P.W., Nelder J.A. (1982) Analysis of covariance and standardization as instances of prediction. Biometrics 38:613-621.",
    ),
    work("lane-riesenfeld-1981", "Lane J.M., Riesenfeld R.F. (1981) Bounds on a polynomial. BIT 21:112-117."),
    work(
        "lin-1997",
        "Lin X. (1997) Variance component testing in generalised linear models with random effects. Biometrika 84:309-326.",
    ),
    work("liu-pierce-1994", "Liu Q., Pierce D.A. (1994) A note on Gauss-Hermite quadrature. Biometrika 81:624-629."),
    work("lloyd-1967", "Lloyd M. (1967) Mean crowding. J. Anim. Ecol. 36:1-30."),
    work("loader-2000", "Loader C. (2000) Fast and accurate computation of binomial probabilities. Bell Laboratories."),
    work(
        "lorenz-1995",
        "Lorenz D.H. et al. (1995) Phenological growth stages of the grapevine (Vitis vinifera L. ssp. vinifera): codes and descriptions according to the extended BBCH scale. Aust. J. Grape Wine Res. 1:100-103 (from memory).",
    ),
    work(
        "mantel-haenszel-1959",
        "Mantel N., Haenszel W. (1959) Statistical aspects of the analysis of data from retrospective studies of disease. J. Natl. Cancer Inst. 22:719-748.",
    ),
    work(
        "mccullagh-nelder-1989",
        "McCullagh P., Nelder J.A. (1989) Generalized Linear Models, 2nd ed. Chapman & Hall.",
    ),
    work(
        "mckay-1979",
        "McKay M.D., Beckman R.J., Conover W.J. (1979) A comparison of three methods for selecting values of input variables in the analysis of output from a computer code. Technometrics 21:239-245.",
    ),
    work(
        "mehta-patel-1983",
        "Mehta C.R., Patel N.R. (1983) A network algorithm for performing Fisher's exact test in r x c contingency tables. J. Am. Stat. Assoc. 78:427-434.",
    ),
    work(
        "mehta-patel-gray-1985",
        "Mehta C.R., Patel N.R., Gray R. (1985) Computing an exact confidence interval for the common odds ratio in several 2 x 2 contingency tables. J. Am. Stat. Assoc. 80:969-973.",
    ),
    work("moran-1950", "Moran P.A.P. (1950) Notes on continuous stochastic phenomena. Biometrika 37:17-23."),
    work(
        "morisita-1959",
        "Morisita M. (1959) Measuring of the dispersion of individuals and analysis of the distributional patterns. Mem. Fac. Sci. Kyushu Univ. E 2:215-235.",
    ),
    work(
        "newcombe-1998a",
        "Newcombe R.G. (1998) Two-sided confidence intervals for the single proportion. Stat. Med. 17:857-872.",
    ),
    work(
        "newcombe-1998b",
        "Newcombe R.G. (1998) Interval estimation for the difference between independent proportions. Stat. Med. 17:873-890.",
    ),
    work(
        "newton-spurrell-1967",
        "Newton R.G., Spurrell D.J. (1967) A development of multiple regression for the analysis of routine data. Appl. Stat. 16:51-64.",
    ),
    work("nocedal-wright-2006", "Nocedal J., Wright S.J. (2006) Numerical Optimization, 2nd ed. Springer."),
    work(
        "ohagan-2005",
        "O'Hagan A., Stevens J.W., Campbell M.J. (2005) Assurance in clinical trial design. Pharm. Stat. 4:187-201.",
    ),
    work(
        "phipson-smyth-2010",
        "Phipson B., Smyth G.K. (2010) Permutation p-values should never be zero. Stat. Appl. Genet. Mol. Biol. 9:39.",
    ),
    work(
        "prentice-1986",
        "Prentice R.L. (1986) Binary regression using an extended beta-binomial distribution. J. Am. Stat. Assoc. 81:321-327.",
    ),
    work(
        "puhr-2017",
        "Puhr R., Heinze G., Nold M., Lusa L., Geroldinger A. (2017) Firth's logistic regression with rare events: accurate effect estimates and predictions? Stat. Med. 36:2302-2317.",
    ),
    work(
        "riutort-mayol-2023",
        "Riutort-Mayol G., Burkner P.-C., Andersen M.R., Solin A., Vehtari A. (2023) Practical Hilbert space approximate Bayesian Gaussian processes for probabilistic programming. Stat. Comput. 33:17.",
    ),
    work(
        "robins-1986",
        "Robins J., Breslow N., Greenland S. (1986) Estimators of the Mantel-Haenszel variance consistent in both sparse data and large-strata limiting models. Biometrics 42:311-323.",
    ),
    work(
        "rue-2009",
        "Rue H., Martino S., Chopin N. (2009) Approximate Bayesian inference for latent Gaussian models by using integrated nested Laplace approximations. J. R. Stat. Soc. B 71:319-392.",
    ),
    work(
        "self-liang-1987",
        "Self S.G., Liang K.-Y. (1987) Asymptotic properties of maximum likelihood estimators and likelihood ratio tests under nonstandard conditions. J. Am. Stat. Assoc. 82:605-610.",
    ),
    work(
        "simpson-2017",
        "Simpson D., Rue H., Riebler A., Martins T.G., Sorbye S.H. (2017) Penalising model component complexity: a principled, practical approach to constructing priors. Stat. Sci. 32:1-28.",
    ),
    work(
        "skaug-fournier-2006",
        "Skaug H.J., Fournier D.A. (2006) Automatic approximation of the marginal likelihood in non-Gaussian hierarchical models. Comput. Stat. Data Anal. 51:699-709.",
    ),
    work(
        "skellam-1948",
        "Skellam J.G. (1948) A probability distribution derived from the binomial distribution by regarding the probability of success as variable between the sets of trials. J. R. Stat. Soc. B 10:257-261.",
    ),
    work(
        "stamp-2001",
        "Stamp J.A. (2001) The contribution of imperfections in nursery stock to the decline of young vines in California. Phytopathol. Mediterr. 40 Suppl.:S369-S375 (abstract read).",
    ),
    work(
        "tarone-1979",
        "Tarone R.E. (1979) Testing the goodness of fit of the binomial distribution. Biometrika 66:585-590.",
    ),
    work("tarone-1985", "Tarone R.E. (1985) On heterogeneity tests based on efficient scores. Biometrika 72:91-95."),
    work(
        "tierney-kadane-1986",
        "Tierney L., Kadane J.B. (1986) Accurate approximations for posterior moments and marginal densities. J. Am. Stat. Assoc. 81:82-86.",
    ),
    work(
        "trefethen-weideman-2014",
        "Trefethen L.N., Weideman J.A.C. (2014) The exponentially convergent trapezoidal rule. SIAM Rev. 56:385-458.",
    ),
    work(
        "ucce-black-foot-2015",
        "University of California Cooperative Extension (2015) on black foot of young vines, as reported in the trade press.",
    ),
    work(
        "uga-extension-2018",
        "University of Georgia Extension (2018) Paraquat injury to young vines. Extension viticulture pages, October 2018.",
    ),
    work(
        "umn-extension-2020",
        "University of Minnesota Extension (2020) on cold and frost injury of grape buds. Extension pages.",
    ),
    work(
        "wald-wolfowitz-1940",
        "Wald A., Wolfowitz J. (1940) On a test whether two samples are from the same population. Ann. Math. Stat. 11:147-162.",
    ),
    work(
        "weeks-williams-1964",
        "Weeks D.L., Williams D.R. (1964) A note on the determination of connectedness in an N-way cross classification. Technometrics 6:319-324.",
    ),
    work(
        "williams-1982",
        "Williams D.A. (1982) Extra-binomial variation in logistic linear models. Appl. Stat. 31:144-148.",
    ),
    work(
        "wilson-1927",
        "Wilson E.B. (1927) Probable inference, the law of succession, and statistical inference. J. Am. Stat. Assoc. 22:209-212.",
    ),
    work(
        "woolf-1955",
        "Woolf B. (1955) On estimating the relation between blood group and disease. Ann. Hum. Genet. 19:251-253.",
    ),
    work("wright-1992", "Wright S.P. (1992) Adjusted p-values for simultaneous inference. Biometrics 48:1005-1013."),
    work(
        "yates-1934",
        "Yates F. (1934) Contingency tables involving small numbers and the chi-square test. Suppl. J. R. Stat. Soc. 1:217-235.",
    ),
    work(
        "zeger-1988",
        "Zeger S.L., Liang K.-Y., Albert P.S. (1988) Models for longitudinal data: a generalized estimating equation approach. Biometrics 44:1049-1060.",
    ),
    work(
        "zhang-2010",
        "Zhang Z., Assuncao R., Kulldorff M. (2010) Spatial scan statistics adjusted for multiple clusters. J. Probab. Stat. 2010:642379.",
    ),
];

/// The works of these keys, each once, in the order of the bibliography.
pub fn list(keys: &[SourceKey]) -> Vec<Work> {
    debug_assert!(keys.iter().all(|k| WORKS.iter().any(|w| w.key == *k)), "unknown source in {keys:?}");
    WORKS.iter().filter(|w| keys.contains(&w.key)).copied().collect()
}
