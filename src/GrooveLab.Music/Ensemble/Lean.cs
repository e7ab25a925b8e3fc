namespace GrooveLab.Music.Ensemble;

/// <summary>How far a part that leans sounds behind the beat: the same for all notes of a phrase.</summary>
/// <remarks>40 to 80 ms: common practice, no source. More than the asynchronies of an ensemble that plays together (30 to 50 ms, Rasch 1979),
/// less than a late note that would be written.</remarks>
internal static class Lean
{
    private const int Least = 40_000, Most = 80_000;

    /// <summary>The delay in microseconds.</summary>
    /// <param name="chance">The chance of the part in the run.</param>
    /// <param name="phrase">The number of the phrase.</param>
    public static int Of(Chance chance, int phrase) => Least + chance.For("lean").At(phrase).Below(Most - Least + 1);
}
