using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Ensemble;

/// <summary>The plan of one playing of a section.</summary>
/// <param name="Kind">What the section is for.</param>
/// <param name="Energy">Its energy, 1 to 5.</param>
/// <param name="Tasks">The tasks of the parts through the section, in the band's order.</param>
/// <param name="Fills">The parts that play a fill or lead on in its last bar, with their task there; empty for none.</param>
/// <param name="Decibels">How much louder than by itself the band plays.</param>
/// <param name="Rises">Decibels by which its last two bars rise into the next section; negative when they settle; 0 for neither.</param>
/// <param name="Breaks">True when the band strikes the downbeat of its last bar and leaves the rest to the tune.</param>
/// <param name="IsLastRound">True in the last round of the form, once its end is known.</param>
public sealed record RunPlan(
    SectionKind Kind,
    int Energy,
    IReadOnlyList<PartTask> Tasks,
    IReadOnlyList<(int Part, PartTask Task)> Fills,
    double Decibels,
    double Rises,
    bool Breaks,
    bool IsLastRound);
