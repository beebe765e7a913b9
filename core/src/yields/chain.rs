use serde::{Deserialize, Serialize};

use super::{Cumulative, Yield, YieldError};
use crate::ids::StageId;
use crate::quantity::Base;

/// A step of an item's preparation, with the yields the chain expects of it.
///
/// Plain data; [`Chain::new`] checks it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stage {
    /// Its code, unique within the chain.
    pub code: StageId,
    /// What people call it.
    pub title: String,
    /// The standard yield, out ÷ in.
    pub standard: Yield,
    /// What no batch can honestly pass: above 1 only where water is taken up.
    pub cap: Yield,
    /// The low end of what is usual.
    pub low: Yield,
    /// The high end of what is usual. The highs of all stages do not occur together.
    pub high: Yield,
}

/// The stages of one item, in order of work. May be empty: then the item is used as purchased.
///
/// Where a stage is asked for, `None` means as purchased, before the first stage.
///
/// ```
/// use parings_core::quantity::Base;
/// use parings_core::yields::Chain;
/// let potato: Chain = serde_json::from_str(r#"[
///   {"code":"trim","title":"Trim","standard":"0.90","cap":"1","low":"0.88","high":"0.97"},
///   {"code":"wash","title":"Wash","standard":"0.99","cap":"1.06","low":"0.97","high":"1.04"}
/// ]"#).unwrap();
/// let wash = "wash".parse().unwrap();
/// assert_eq!(potato.cumulative(Some(&wash)).unwrap().decimal(), "0.891".parse().unwrap());
/// assert_eq!(potato.cumulative(None).unwrap().decimal(), 1.into());
/// // A 22.68 kg bag gives 20.21 kg of washed strips, and these were 22.68 kg as purchased.
/// let strips = potato.at_stage(Base::new(22_680.into()), Some(&wash)).unwrap();
/// assert_eq!(strips.value(), "20207.88".parse().unwrap());
/// assert_eq!(potato.as_purchased(strips, Some(&wash)).unwrap(), Base::new(22_680.into()));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(try_from = "Vec<Stage>", into = "Vec<Stage>")]
pub struct Chain(Vec<Stage>);

impl Chain {
    /// A chain of stages in order of work. Codes are unique ([`YieldError::Repeated`]), every stage
    /// has low ≤ standard ≤ high ≤ cap ([`YieldError::Bounds`]), and the products of the standards
    /// can be kept ([`YieldError::Range`]).
    pub fn new(stages: Vec<Stage>) -> Result<Self, YieldError> {
        for (place, stage) in stages.iter().enumerate() {
            if stages[..place].iter().any(|earlier| earlier.code == stage.code) {
                return Err(YieldError::Repeated(stage.code.clone()));
            }
            if !(stage.low <= stage.standard
                && stage.standard <= stage.high
                && stage.high <= stage.cap)
            {
                return Err(YieldError::Bounds(stage.code.clone()));
            }
        }
        product(&stages)?;
        Ok(Self(stages))
    }

    /// The stages, in order of work.
    pub fn stages(&self) -> &[Stage] {
        &self.0
    }

    /// One stage; [`YieldError::UnknownStage`] if the chain has it not.
    pub fn stage(&self, code: &StageId) -> Result<&Stage, YieldError> {
        self.position(code).map(|place| &self.0[place])
    }

    /// The product of the standards up to and including a stage; 1 for `None`.
    /// [`YieldError::UnknownStage`] if the chain has it not.
    pub fn cumulative(&self, stage: Option<&StageId>) -> Result<Cumulative, YieldError> {
        match stage {
            None => Ok(Cumulative::AS_PURCHASED),
            Some(code) => product(&self.0[..=self.position(code)?]),
        }
    }

    /// The product of all standards: finished ÷ as purchased; 1 for an empty chain.
    ///
    /// ```
    /// use parings_core::yields::{Chain, Cumulative};
    /// assert_eq!(Chain::default().total().unwrap(), Cumulative::AS_PURCHASED);
    /// ```
    pub fn total(&self) -> Result<Cumulative, YieldError> {
        product(&self.0)
    }

    /// What an amount at a stage was as purchased. [`YieldError::UnknownStage`];
    /// [`YieldError::Range`] when too large.
    pub fn as_purchased(&self, here: Base, stage: Option<&StageId>) -> Result<Base, YieldError> {
        self.cumulative(stage)?.as_purchased(here)
    }

    /// What an amount as purchased comes to after a stage. Errors as for
    /// [`Chain::as_purchased`].
    pub fn at_stage(&self, bought: Base, stage: Option<&StageId>) -> Result<Base, YieldError> {
        self.cumulative(stage)?.of_purchased(bought)
    }

    /// What should come out of the stages after `from` (none: as purchased) up to and including `to`,
    /// of what goes into them: several where only the last of them is weighed.
    /// [`YieldError::UnknownStage`]; [`YieldError::Yield`] when there are none between.
    ///
    /// ```
    /// use parings_core::yields::Chain;
    /// let chain: Chain = serde_json::from_str(r#"[
    ///   {"code":"cut","title":"Cut","standard":"0.90","cap":"1","low":"0.88","high":"0.97"},
    ///   {"code":"wash","title":"Wash","standard":"0.99","cap":"1.06","low":"0.97","high":"1.04"}
    /// ]"#).unwrap();
    /// let wash = "wash".parse().unwrap();
    /// let both = chain.standard_between(None, &wash).unwrap();
    /// assert_eq!(both.decimal().to_string(), "0.8910");
    /// assert_eq!(chain.cap_between(None, &wash).unwrap().decimal().to_string(), "1.06");
    /// ```
    pub fn standard_between(
        &self,
        from: Option<&StageId>,
        to: &StageId,
    ) -> Result<Yield, YieldError> {
        self.between(from, to, |stage| stage.standard)
    }

    /// The most that can come out of those stages.
    pub fn cap_between(&self, from: Option<&StageId>, to: &StageId) -> Result<Yield, YieldError> {
        self.between(from, to, |stage| stage.cap)
    }

    fn between(
        &self,
        from: Option<&StageId>,
        to: &StageId,
        of: impl Fn(&Stage) -> Yield,
    ) -> Result<Yield, YieldError> {
        let first = from.map(|code| self.position(code)).transpose()?.map_or(0, |place| place + 1);
        let last = self.position(to)?;
        let mut stages = self.0.get(first..=last).unwrap_or_default().iter().map(of);
        let one = stages.next().ok_or(YieldError::Yield)?;
        stages.try_fold(one, |so_far, next| Yield::new(so_far.decimal() * next.decimal()))
    }

    fn position(&self, code: &StageId) -> Result<usize, YieldError> {
        self.0
            .iter()
            .position(|stage| stage.code == *code)
            .ok_or_else(|| YieldError::UnknownStage(code.clone()))
    }
}

fn product(stages: &[Stage]) -> Result<Cumulative, YieldError> {
    stages.iter().try_fold(Cumulative::AS_PURCHASED, |so_far, stage| so_far.then(stage.standard))
}

impl TryFrom<Vec<Stage>> for Chain {
    type Error = YieldError;
    fn try_from(stages: Vec<Stage>) -> Result<Self, YieldError> {
        Self::new(stages)
    }
}

impl From<Chain> for Vec<Stage> {
    fn from(chain: Chain) -> Self {
        chain.0
    }
}

#[cfg(test)]
pub(super) mod tests {
    use proptest::prelude::*;
    use rust_decimal::Decimal;

    use super::*;

    fn stage(code: &str, [standard, cap, low, high]: [&str; 4]) -> Stage {
        let ratio = |text: &str| Yield::new(text.parse().unwrap()).unwrap();
        Stage {
            code: code.parse().unwrap(),
            title: code.to_owned(),
            standard: ratio(standard),
            cap: ratio(cap),
            low: ratio(low),
            high: ratio(high),
        }
    }

    /// Invented worked example; ranges are common practice, no source.
    pub(in crate::yields) fn potato() -> Chain {
        Chain::new(vec![
            stage("trim", ["0.90", "1.00", "0.88", "0.97"]),
            stage("wash", ["0.99", "1.06", "0.97", "1.04"]),
            stage("first-fry", ["0.78", "1.00", "0.70", "0.85"]),
            stage("chill", ["0.97", "1.00", "0.95", "0.99"]),
            stage("finish-fry", ["0.68", "1.00", "0.58", "0.78"]),
        ])
        .unwrap()
    }

    /// Source: invented worked example, a 22.68 kg (50 lb) bag.
    #[test]
    fn a_bag_of_potatoes_through_its_stages() {
        let chain = potato();
        for (code, cumulative, kg) in [
            ("trim", "0.900", "20.41"),
            ("wash", "0.891", "20.21"),
            ("first-fry", "0.695", "15.76"),
            ("chill", "0.674", "15.29"),
            ("finish-fry", "0.458", "10.40"),
        ] {
            let code = code.parse().unwrap();
            let ratio = chain.cumulative(Some(&code)).unwrap().decimal();
            assert_eq!(ratio.round_dp(3), cumulative.parse().unwrap(), "{code}");
            let out = chain.at_stage(Base::new(22_680.into()), Some(&code)).unwrap().value();
            let shown = (out / Decimal::from(1000)).round_dp(2);
            assert_eq!(shown, kg.parse().unwrap(), "{code}");
        }
        assert_eq!(chain.total(), chain.cumulative(Some(&"finish-fry".parse().unwrap())));
    }

    /// Source: invented worked example: raw 90.7 kg and blanched 27.5 kg are 131.5 kg as purchased.
    #[test]
    fn a_closing_count_as_purchased() {
        let chain = potato();
        let blanched =
            chain.as_purchased(Base::new(27_500.into()), Some(&"chill".parse().unwrap())).unwrap();
        let raw = chain.as_purchased(Base::new(90_700.into()), None).unwrap();
        let kg = (blanched.value() + raw.value()) / Decimal::from(1000);
        assert_eq!(kg.round_dp(1).to_string(), "131.5");
    }

    /// What comes out between two stages is the product of those after the first, up to the last.
    #[test]
    fn between_two_stages() {
        let thirds = ["a", "b", "c"].into_iter().zip(["0.5", "0.8", "0.9"]);
        let chain =
            Chain::new(thirds.map(|(code, y)| stage(code, [y, "1", y, y])).collect()).unwrap();
        let code = |text: &str| text.parse::<StageId>().unwrap();
        let between = |from: Option<&str>, to: &str| {
            let from = from.map(code);
            chain.standard_between(from.as_ref(), &code(to)).map(|y| y.decimal().normalize())
        };
        let exact = |text: &str| Ok(text.parse::<Decimal>().unwrap());
        assert_eq!(between(None, "a"), exact("0.5"));
        assert_eq!(between(None, "c"), exact("0.36"));
        assert_eq!(between(Some("a"), "b"), exact("0.8"));
        assert_eq!(between(Some("a"), "c"), exact("0.72"));
        assert_eq!(between(Some("c"), "c"), Err(YieldError::Yield));
        assert_eq!(between(Some("b"), "a"), Err(YieldError::Yield));
        assert_eq!(between(Some("z"), "c"), Err(YieldError::UnknownStage(code("z"))));
        let cap = chain.cap_between(Some(&code("a")), &code("c")).unwrap();
        assert_eq!(cap.decimal(), Decimal::ONE);
    }

    /// Source: USDA Agriculture Handbook 102 (1975), table 2, mashed potatoes: 0.81 × 0.95 × 1.20,
    /// printed as 0.92 (quoted second-hand; product recomputed).
    #[test]
    fn handbook_102_chain() {
        let mashed = Chain::new(vec![
            stage("pare", ["0.81", "1", "0.81", "0.81"]),
            stage("boil", ["0.95", "1", "0.95", "0.95"]),
            stage("mash", ["1.20", "1.20", "1.20", "1.20"]),
        ])
        .unwrap();
        let total = mashed.total().unwrap().decimal();
        assert_eq!(total, "0.9234".parse().unwrap());
        assert_eq!(total.round_dp(2).to_string(), "0.92");
    }

    #[test]
    fn what_is_no_chain_is_refused() {
        let trim = || stage("trim", ["0.90", "1", "0.88", "0.97"]);
        let code: StageId = "trim".parse().unwrap();
        assert_eq!(Chain::new(vec![trim(), trim()]), Err(YieldError::Repeated(code.clone())));
        for disordered in [
            ["0.87", "1", "0.88", "0.97"],
            ["0.98", "1", "0.88", "0.97"],
            ["0.90", "0.96", "0.88", "0.97"],
        ] {
            let found = Chain::new(vec![stage("trim", disordered)]);
            assert_eq!(found, Err(YieldError::Bounds(code.clone())), "{disordered:?}");
        }
        assert_eq!(
            Chain::default().cumulative(Some(&code)),
            Err(YieldError::UnknownStage(code.clone()))
        );
        assert!(Chain::default().stage(&code).is_err());
        let tiny = "0.0000000000000001";
        let vanishing = [stage("a", [tiny; 4]), stage("b", [tiny; 4])];
        assert_eq!(Chain::new(vanishing.to_vec()), Err(YieldError::Range));
    }

    proptest! {
        /// Mass is kept: there and back again is the same amount, to a millionth of a gram.
        #[test]
        fn as_purchased_undoes_at_stage(milligrams in -1_000_000_000i64..1_000_000_000, place in 0usize..6) {
            let chain = potato();
            let code = place.checked_sub(1).map(|place| chain.stages()[place].code.clone());
            let bought = Base::new(Decimal::new(milligrams, 3));
            let there = chain.at_stage(bought, code.as_ref()).unwrap();
            let back = chain.as_purchased(there, code.as_ref()).unwrap();
            prop_assert_eq!(back.value().round_dp(6), bought.value().round_dp(6));
        }
    }

    #[test]
    fn a_chain_is_a_list_in_json() {
        let json = serde_json::to_value(potato()).unwrap();
        assert_eq!(json[1]["standard"], "0.99");
        assert_eq!(serde_json::from_value::<Chain>(json).unwrap(), potato());
    }
}
