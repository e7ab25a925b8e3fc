using GrooveLab.Exchange.Sheets;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Sheets;
using GrooveLab.Music.Wording;

namespace GrooveLab.Export;

/// <summary>The printed sheets of a band, each a whole HTML page.</summary>
/// <param name="band">The band, with or without its lead-in; one that plays a number of bars has the form up to there.</param>
internal sealed class BandSheets(BarComposer band)
{
    private readonly SheetMaker _maker = new(band);
    private Sheet? _sheet;

    private Sheet Sheet => _sheet ??= _maker.Sheet();

    /// <summary>Whether there are words to sing.</summary>
    public bool HasWords => SingerSheetMaker.Verses(band.Chart).Any(verse => verse.Any(syllable => syllable is not null));

    /// <summary>The sheet for the whole band.</summary>
    public string ForTheBand() => SheetPage.ForTheBand(Sheet);

    /// <summary>The sheet for the player of a part.</summary>
    /// <param name="part">The index of the part in the chart.</param>
    public string ForThePlayer(int part) => SheetPage.ForThePlayer(Sheet, part, _maker.StepsOf(part));

    /// <summary>The sheet for the singer.</summary>
    public string ForTheSinger() =>
        SheetPage.ForTheSinger(Sheet, new SingerSheetMaker(band, _maker, EnglishStress.For(SingerSheetMaker.Verses(band.Chart))).Sheet());

    /// <summary>The index of the part that a name means: its own name, or if no part has it, that of its instrument or role.</summary>
    /// <param name="name">The name.</param>
    /// <exception cref="CommandFailure">No part of the chart is called so, or several.</exception>
    public int PartCalled(string name)
    {
        var parts = band.Chart.Parts;
        var own = parts.ToList().FindIndex(part => string.Equals(part.Name, name.Trim(), StringComparison.OrdinalIgnoreCase));
        if (own >= 0)
        {
            return own;
        }

        List<int> called = [.. Enumerable.Range(0, parts.Count).Where(part => parts[part].IsCalled(name))];
        return called.Count == 1
            ? called[0]
            : throw CommandFailure.BadInput(called.Count == 0
                ? $"--part: {Words.Unknown("part", name, parts.Select(part => part.Name))}"
                : $"--part {name} means {Words.And([.. called.Select(part => parts[part].Name)])}; name one of them");
    }
}
