using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Sheets;

/// <summary>Makes the singer's sheet of a band.</summary>
public sealed class SingerSheetMaker
{
    private const int FewestInGroup = 3;
    private const int MostInGroup = 8;
    private const int UsualBars = 4;
    private const int MostCueNotes = 3;

    private readonly BarComposer _band;
    private readonly SheetMaker _maker;
    private readonly Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>> _stresses;

    /// <summary>Prepares the sheet.</summary>
    /// <param name="band">The band.</param>
    /// <param name="maker">Its sheets, for the letters of the sections.</param>
    /// <param name="stresses">The stress of each syllable of a verse by a dictionary; null for none.</param>
    public SingerSheetMaker(BarComposer band, SheetMaker maker, Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>>? stresses = null)
    {
        _band = band;
        _maker = maker;
        _stresses = stresses ?? SungStresses.Marked;
    }

    /// <summary>All verses of the tunes, for a dictionary that looks at the whole song.</summary>
    public static IReadOnlyList<IReadOnlyList<Syllable?>> Verses(Chart chart) =>
        [.. chart.Sections.Select(section => section.Tune).Concat(chart.Sections.SelectMany(section => section.Endings).Select(ending => ending.Tune)).OfType<Tune>()
            .SelectMany(tune => tune.Lines.Prepend(tune.Melody)).SelectMany(voice => voice.Verses)];

    /// <summary>The sheet.</summary>
    public SingerSheet Sheet()
    {
        var blocks = new List<SungBlock>();
        var printed = new HashSet<string>(StringComparer.Ordinal);
        var end = _band.Options.Bars ?? _band.Plan.Bars;
        for (var bar = 0; bar < end;)
        {
            var run = _band.Plan.BarAt(bar).Run;
            bar = run.EndBar;
            var block = Block(run);
            if (block.Lines.Count > 0)
            {
                var repeated = !printed.Add(block.Letter + "\n" + string.Join('\n', block.Lines.Select(line => line.Sentence)) + "\n" + run.Ending.ToString(CultureInfo.InvariantCulture));
                blocks.Add(block with { IsRepeated = repeated });
            }
            else if (blocks.Count > 0 && blocks[^1] is { Lines.Count: 0 } before && before.Letter == block.Letter)
            {
                blocks[^1] = before with { BarCount = before.BarCount + block.BarCount };
            }
            else
            {
                blocks.Add(block);
            }
        }

        return new SingerSheet(blocks, Late(), blocks.Exists(block => block.Lines.Count > 0));
    }

    private string Late() => _band.Chart.Parts.Select(part => part.Settings).OfType<TuneSettings>().FirstOrDefault() is { LaidBack: not LayBack.None } tune
        ? "The tune part lays back: " + RoleLines.Late(tune.LaidBack) + "."
        : string.Empty;

    private SungBlock Block(SectionRun run)
    {
        var voice = Sung(run.Section.Tune);
        var letter = _maker.LetterOf(run);
        var facts = _maker.Facts(run).Take(1).Concat(_maker.Facts(run).Skip(1).Where(fact => fact.StartsWith("in ", StringComparison.Ordinal))).ToList();
        if (voice is null)
        {
            var places = _maker.Places(run).ToList();
            return new SungBlock(letter, run.Section.Name, run.FirstBar + 1, run.Bars, facts, [])
            {
                SilentBars = [.. places.Select((place, i) => SheetMaker.BarOf(place, i == 0 ? null : places[i - 1]))],
            };
        }

        if (voice.Verses.Count > 1)
        {
            facts.Insert(0, "words " + ((run.Verse % voice.Verses.Count) + 1).ToString(CultureInfo.InvariantCulture));
        }

        if (run.Ending > 0)
        {
            facts.Add("ending " + run.Ending.ToString(CultureInfo.InvariantCulture));
        }

        return new SungBlock(letter, run.Section.Name, run.FirstBar + 1, run.Bars, facts, Lines(run, voice));
    }

    // The words of the tune, else of the first line that has any.
    private static TuneVoice? Sung(Tune? tune) => tune?.Lines.Prepend(tune.Melody)
        .FirstOrDefault(line => line.Verses.Any(verse => verse.Any(syllable => syllable is not null)));

    private List<SungLine> Lines(SectionRun run, TuneVoice voice)
    {
        var verse = voice.Verses[run.Verse % voice.Verses.Count];
        var stresses = Stresses(run, voice, verse);
        var phrasing = new TunePhrasing(run.Section, voice, verse);
        var octaves = _band.Chart.Parts.Select(part => part.Settings).OfType<TuneSettings>().FirstOrDefault()?.Octaves ?? 0;
        var places = _maker.Places(run).ToList();
        var lines = new List<SungLine>();
        var bars = new List<SungBar>();
        var pickup = voice.PickupLength;
        if (pickup > Span.Zero)
        {
            bars.Add(Bar(places[0], null, -pickup, pickup));
        }

        for (var i = 0; i < places.Count; i++)
        {
            var place = places[i];
            if (StartsLine(place) && bars.Exists(bar => !bar.IsPickup))
            {
                lines.Add(new SungLine(bars));
                bars = [];
            }

            bars.Add(Bar(place, i == 0 ? null : places[i - 1], Span.Zero, place.Length));
        }

        lines.Add(new SungLine(bars));
        return lines;

        SungBar Bar(BarPlace place, BarPlace? before, Span from, Span length)
        {
            var line = place.Start - place.Run.Start;
            bool IsHere(Span onset) => from < Span.Zero ? onset < Span.Zero : onset >= line && onset < line + length;
            var syllables = new List<SungSyllableMark>();
            var cues = new List<CueNotes>();
            var breaths = new List<Span>();
            for (var note = 0; note < voice.Notes.Count; note++)
            {
                var own = voice.Notes[note];
                if (IsHere(own.Onset))
                {
                    if (note < verse.Count && verse[note] is { IsHeldOver: false } syllable)
                    {
                        var last = voice.Notes[Math.Min(note + Math.Max(1, syllable.Notes), voice.Notes.Count) - 1];
                        syllables.Add(new SungSyllableMark(
                            own.Onset - line,
                            last.Onset + last.Length - own.Onset,
                            syllable.Late ?? own.Late,
                            syllable.Text,
                            syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle,
                            stresses[note],
                            Math.Max(1, syllable.Notes)));
                    }

                    if (note == 0 || phrasing.EndsPhrase(note - 1))
                    {
                        cues.Add(new CueNotes(own.Onset - line, Cue(voice, phrasing, note, octaves)));
                    }
                }

                var end = own.Onset + own.Length;
                var isHere = from < Span.Zero ? end < Span.Zero && own.Onset < Span.Zero : end > line && end <= line + length;
                if (isHere && (phrasing.EndsPhrase(note) || own.Has(MarkKind.BreathMark) || own.Has(MarkKind.Caesura)))
                {
                    breaths.Add(end - line);
                }
            }

            return new SungBar(from < Span.Zero ? 0 : place.Index + 1, place.Meter, from, length, from < Span.Zero ? [] : place.Chords, syllables, cues, breaths)
            {
                Marks = from < Span.Zero ? [] : SheetMaker.BarOf(place, before).Marks,
            };
        }
    }

    private static bool StartsLine(BarPlace place) => place.GroupPlace.Size is >= FewestInGroup and <= MostInGroup
        ? place.GroupPlace.IsFirst
        : place.IndexInRun % UsualBars == 0;

    private static IReadOnlyList<Pitch> Cue(TuneVoice voice, TunePhrasing phrasing, int first, int octaves)
    {
        var pitches = new List<Pitch>();
        for (var note = first; note < voice.Notes.Count && pitches.Count < MostCueNotes; note++)
        {
            var pitch = voice.Notes[note].Pitch;
            pitches.Add(pitch with { Octave = pitch.Octave + octaves });
            if (phrasing.EndsPhrase(note) || (note + 1 < voice.Notes.Count && voice.Notes[note + 1].Onset > voice.Notes[note].Onset + voice.Notes[note].Length))
            {
                break;
            }
        }

        return pitches;
    }

    // Marks come first, then the dictionary; what neither knows is stressed on the bar line.
    private bool[] Stresses(SectionRun run, TuneVoice voice, IReadOnlyList<Syllable?> verse)
    {
        var known = SungStresses.Of(verse, _stresses(verse), [.. verse.Select(_ => false)]);
        var lines = _maker.Places(run).Select(place => place.Start - run.Start).ToHashSet();
        return [.. Enumerable.Range(0, voice.Notes.Count).Select(note => note < known.Count && known[note] switch
        {
            SyllableStress.Stressed => true,
            SyllableStress.Unknown => lines.Contains(voice.Notes[note].Onset),
            _ => false,
        })];
    }
}
