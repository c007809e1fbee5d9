//! Where expected figures come from, and how they were had: seen, from memory, or worked out anew.

/// A source, as the table in the README lists it.
pub(crate) struct Source {
    pub(crate) name: &'static str,
    /// The whole title, and how the figures were had.
    pub(crate) how: &'static str,
}

macro_rules! sources {
    ($($constant:ident = $name:literal: $how:literal;)*) => {$(
        pub(crate) const $constant: Source = Source { name: $name, how: $how };
    )*};
}

sources! {
    TEST_SET = "Test Set for IVP Solvers": "F. Mazzia, C. Magherini, release 2.4, Bari 2008 (figures looked \
        up in its distributed programs and confirmed by an own integration of order 9, which also gave \
        those on the way); origin Rentrop, Roche, Steinebach, Numer. Math. 55 (1989) 545";
    HAIRER = "Hairer and Wanner": "Solving Ordinary Differential Equations II, 2nd ed., Springer 1996 \
        (problem looked up in public codes; figures by an own integration of order 9 at two step sizes)";
    STEINEBACH = "Steinebach": "TH Darmstadt, preprint 1741, 1995 (coefficients from memory, order \
        conditions checked; R(z) worked out from them)";
    BANK = "Bank et al.": "Bank, Coughran, Fichtner, Grosse, Rose, Smith, IEEE Trans. CAD 4 (1985) 436 \
        (formula rederived, 40 digits)";
    HOSEA = "Hosea and Shampine": "Appl. Numer. Math. 20 (1996) 21 (coefficients from memory, seen again in \
        public codes; 40 digits)";
    SECOND_ORDER = "closed form, second order": "any textbook on control or networks (from memory), \
        evaluated with 40 digits";
    ELMORE = "closed form, RC line": "W. C. Elmore, J. Appl. Phys. 19 (1948) 55 (from memory) and Fourier's \
        series, evaluated with 40 digits";
    FIRST_INSTANTS = "first instants of a load step": "the rule of application notes on low-dropout \
        regulators, ESR·ΔI + ΔI·t/C (from memory: Texas Instruments SLVA072, SLVA079)";
    MIDDLEBROOK = "Middlebrook": "Int. J. Electronics 38 (1975) 485 (title looked up, formula derived anew; \
        the circuit's closed form with 25 digits)";
    AN1148 = "AN-1148": "C. Simpson, Texas Instruments (National) AN-1148 (poles looked up on secondary \
        pages, cases of ESR from memory; exact crossovers worked out)";
    BOYLESTAD = "Boylestad and Nashelsky": "Electronic Devices and Circuit Theory (inputs looked up in \
        public textbook companions, typed by students; the book not seen)";
    FLOYD = "Floyd": "Electronic Devices (worked examples from such companions, the book not seen)";
    FRANCO = "Franco": "Design with Operational Amplifiers and Analog Integrated Circuits (worked examples from such companions, the book not seen)";
    BELL_4 = "Bell, 4th ed.": "Electronic Devices and Circuits, 4th ed. (worked examples from such companions, the book not seen)";
    BELL_5 = "Bell, 5th ed.": "Electronic Devices and Circuits, 5th ed. (worked examples from such companions, the book not seen)";
    SALIVAHANAN = "Salivahanan": "Salivahanan and Bhaaskaran, linear integrated circuits (worked examples from such companions, the book not seen)";
    MALVINO = "Malvino": "Electronic Principles (worked examples from such companions, the book not seen)";
    SEDRA = "Sedra and Smith": "Microelectronic Circuits, 5th ed. (worked examples from such companions, the book not seen)";
    RAJA = "Raja": "P. Raja, linear integrated circuits (worked examples from such companions, the book not seen)";
    TOSHIBA = "Toshiba": "questions and answers on its regulators (looked up); for the resistance, Texas \
        Instruments' data sheets UA78M and TLV772 (looked up)";
    TOSHIBA_BASICS = "Toshiba, basics": "e-learning, Basics of LDO regulators (looked up)";
    GRAY_MEYER = "Gray and Meyer": "Analysis and Design of Analog Integrated Circuits (law from memory, 40 \
        digits)";
    WIDLAR = "Widlar": "IEEE Trans. Circuit Theory 12 (1965) 586 (law from memory; 40 digits by Lambert's W)";
    BANDGAP = "Brokaw": "IEEE J. Solid-State Circuits 9 (1974) 388 (law from memory, 40 digits)";
    GETREU = "Getreu": "Modeling the Bipolar Transistor, 1976 (laws from memory, digits from direct \
        evaluation)";
    SI = "SI": "BIPM, SI Brochure, 9th ed. 2019: k and q are exact (from memory); 40 digits";
    BANWELL = "Banwell and Jayakumar": "Electronics Letters 36 (2000) 291 (looked up: bibliographic record; \
        40 digits)";
    EBERS_MOLL = "Ebers and Moll": "Proc. IRE 42 (1954) 1761 (law from memory, digits from direct evaluation)";
    GUMMEL_POON = "Gummel and Poon": "Bell Syst. Tech. J. 49 (1970) 827, and J. M. Early, Proc. IRE 40 (1952) \
        1401 (laws from memory, digits from direct evaluation)";
    EKV = "Enz, Krummenacher, Vittoz": "Analog Integr. Circuits Signal Process. 8 (1995) 83 (law from memory, \
        digits from direct evaluation)";
    SHICHMAN = "Shichman and Hodges": "IEEE J. Solid-State Circuits 3 (1968) 285 (law from memory, digits \
        from direct evaluation)";
    JOHNSON = "Johnson, Nyquist": "Phys. Rev. 32 (1928) 97 and 110 (law from memory, digits from direct \
        evaluation)";
    SCHOTTKY = "Schottky": "Ann. Phys. 57 (1918) 541 (law from memory, digits from direct evaluation)";
    IEC_60063 = "IEC 60063": "preferred number series (E12 looked up, the others from memory)";
    CERAMICS = "EIA-198": "ceramic capacitor classes (looked up in two makers' data pages and a \
        distributor's table)";
    ISO_16750 = "ISO 16750-2": "electrical loads of road vehicles (looked up in recipes and manuals of test \
        instruments and a bench document, not in the standard)";
    ISO_16750_MEMORY = "ISO 16750-2, from memory": "voltages and times of levels II to IV; the standard \
        decides";
    USB = "USB 2.0": "capacitances of a port (from memory, section 7.2.4.1); what is left of the voltage is \
        conservation of charge";
}
