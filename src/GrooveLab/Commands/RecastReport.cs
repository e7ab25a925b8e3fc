using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Files;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Commands;

/// <summary>What became of a song in another meter, and why.</summary>
internal sealed class RecastReport
{
    private const int MostNamed = 5;
    private const int Minute = 60;

    private readonly TreatedSong _treated;
    private readonly SongRecasting _recasting;
    private readonly RecastMeasures _measures;
    private readonly IReadOnlyList<string> _remarks;
    private readonly (Span Grid, RecastMeasures Measures)? _finer;
    private readonly FormPlan _plan;
    private readonly Phrasing _phrasing;

    /// <param name="treated">The song in its new meter.</param>
    /// <param name="remarks">Remarks of the import, if the song was a score.</param>
    /// <param name="phrasing">How the song was to be sung.</param>
    /// <param name="finer">The song in the same treatment on a grid of half the distance; null if no figure turned.</param>
    public RecastReport(TreatedSong treated, IReadOnlyList<string> remarks, Phrasing phrasing = Phrasing.Plain, (Span Grid, SongRecasting Song)? finer = null)
    {
        _phrasing = phrasing;
        _treated = treated;
        _recasting = treated.Recasting;
        _measures = new RecastMeasures(_recasting);
        _remarks = remarks;
        _finer = finer is { } other ? (other.Grid, new RecastMeasures(other.Song)) : null;
        _plan = new FormPlan(_recasting.Result);
    }

    private IEnumerable<(RecastStretch Stretch, int Index)> Sung => _recasting.Stretches.Select((stretch, i) => (stretch, i)).Where(one => one.stretch.Lines.Count > 0);

    /// <summary>The remarks at the head of the chart.</summary>
    /// <param name="source">The name of the song's file.</param>
    public IEnumerable<string> Heading(string source)
    {
        yield return $"Recast from {Path.GetFileName(source)}:";
        foreach (var line in Treatments())
        {
            yield return line;
        }
    }

    /// <summary>The report in lines.</summary>
    public IEnumerable<string> Lines()
    {
        foreach (var remark in _remarks)
        {
            yield return remark;
        }

        foreach (var line in Treatments())
        {
            yield return line;
        }

        yield return BarLine();
        if (AtOneTempo() is { Count: > 0 } sections)
        {
            yield return $"tempo: {string.Join(", ", sections)} went at more than one tempo, as the sections before left it; now it always begins at the first";
        }

        if (LeftOut() is { Count: > 0 } left)
        {
            yield return $"left out, since it was meant for the old meter: {string.Join(", ", left)}; write it into the chart where you want it";
        }

        if (!Sung.Any())
        {
            yield return "no tune: bars, chords and tempi were recast";
            yield break;
        }

        yield return $"strong beats: {Words.Count(_measures.StrongBeats, "note")} on or over them, {_measures.StrongBeatsKept} still there";
        var reversed = _measures.Turned.FindAll(figure => figure.IsReversed);
        var evened = _measures.Turned.FindAll(figure => !figure.IsReversed);
        yield return "figures: " + Listed([
            reversed.Count == 0 ? "none reversed" : $"{reversed.Count} reversed ({Named(reversed.Select(figure => NoteName(figure.Stretch, figure.Line, figure.Note)))})",
            evened.Count == 0 ? string.Empty : $"{evened.Count} evened out ({Named(evened.Select(figure => NoteName(figure.Stretch, figure.Line, figure.Note)))})",
            _recasting.Places.UnlikeFigures == 0 ? "like figures are alike" : $"{_recasting.Places.UnlikeFigures} unlike their like",
        ]);
        if (_finer is { } finer && finer.Measures.Turned.Count < _measures.Turned.Count)
        {
            var turned = finer.Measures.Turned.Count(figure => figure.IsReversed);
            yield return Number($"their shapes have more room with --grid {NoteValue.NameOf(finer.Grid)}: {turned} reversed, {finer.Measures.Turned.Count - turned} evened out; or in another meter, see --rank");
        }

        foreach (var line in SungLines())
        {
            yield return line;
        }

        foreach (var line in LateLines())
        {
            yield return line;
        }

        yield return Number($"cost: {_treated.PlacesCost:0.000} in all, {_treated.CostPerNote:0.000} a note") + (_recasting.Places.IsProven ? string.Empty : "; a better one may exist, the search was ended");
        foreach (var (phrase, _) in _recasting.Places.Ties.Take(MostNamed))
        {
            yield return $"tie: {PhraseName(phrase)} has other places of the same cost; the later ones were taken (a finer --grid or a pin decides)";
        }
    }

    /// <summary>Writes the report as JSON.</summary>
    /// <param name="to">The stream.</param>
    /// <param name="chart">The chart that was written; null for none.</param>
    public void WriteJson(Stream to, string? chart)
    {
        using var json = new Utf8JsonWriter(to, new JsonWriterOptions { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
        json.WriteStartObject();
        if (chart is not null)
        {
            json.WriteString("chart", chart);
        }

        json.WriteString("title", _recasting.Result.Title);
        WriteSections(json);
        json.WriteStartArray("leftOut");
        foreach (var left in LeftOut())
        {
            json.WriteStringValue(left);
        }

        json.WriteEndArray();
        WriteSummary(json);
        WriteSyllables(json);
        WriteNotes(json);
        json.WriteEndObject();
        json.Flush();
        to.WriteByte((byte)'\n');
    }

    private static string Listed(IEnumerable<string> parts) => string.Join(", ", parts.Where(part => part.Length > 0));

    private static string Number(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private static string Named(IEnumerable<string> names)
    {
        var all = names.ToList();
        return string.Join(", ", all.Take(MostNamed)) + (all.Count > MostNamed ? ", …" : string.Empty);
    }

    private IEnumerable<string> Treatments()
    {
        var sections = _recasting.Source.Sections;
        var groups = _recasting.Stretches.Where(stretch => stretch.Ending == 0).GroupBy(stretch => (stretch.Treatment, _recasting.Seams[stretch.Section].After)).ToList();
        foreach (var group in groups)
        {
            var name = groups.Count == 1 ? string.Empty : string.Join(", ", group.Select(stretch => sections[stretch.Section].Name)) + ": ";
            var (treatment, after) = group.Key;
            if (!group.Any(HasBarOf))
            {
                var kept = _recasting.Result.Sections[group.First().Section].Bars[0].Meter;
                yield return name + Number($"{kept}, no bar of the usual length for {treatment.Words}; {NoteValue.NameOf(kept.Unit)} = {Decimals.Of((after / kept.Unit.Wholes).Within(100))}, a bar lasts {Seconds(kept, after):0.00} s");
                continue;
            }

            var seconds = _measures.BarSeconds(group.First());
            yield return name + Number($"{treatment.Words}, {NoteValue.NameOf(treatment.To.Unit)} = {Decimals.Of((after / treatment.To.Unit.Wholes).Within(100))}, a bar lasts {seconds:0.00} s");
        }
    }

    private static double Seconds(BarMeter meter, Rational wholesPerMinute) => meter.Length.Wholes.ToDouble() * Minute / wholesPerMinute.ToDouble();

    // A section of bars of another length may have no bar of the new meter.
    private bool HasBarOf(RecastStretch stretch) => _recasting.Result.Sections[stretch.Section].Bars.Any(bar => bar.Meter == stretch.Treatment.To);

    // Sections that state their tempo cannot take it from the section before.
    private List<string> AtOneTempo()
    {
        var before = new FormPlan(_recasting.Source);
        return
        [
            .. before.Runs.Zip(_plan.Runs).Where(run =>
            {
                var seam = _recasting.Seams[run.First.SectionIndex];
                return before.BarAt(run.First.FirstBar).SteadyTempo.WholesPerMinute * seam.After != _plan.BarAt(run.Second.FirstBar).SteadyTempo.WholesPerMinute * seam.Before
                    && before.BarAt(run.First.FirstBar).SteadyTempo.WholesPerMinute != seam.Before;
            }).Select(run => _recasting.Source.Sections[run.First.SectionIndex].Name).Distinct(),
        ];
    }

    // What the source says of swing, feel and count holds for its own meter.
    private List<string> LeftOut()
    {
        var source = _recasting.Source;
        return
        [
            .. new[]
            {
                source.Swing != _recasting.Result.Swing ? $"swing {source.Swing.Numerator}:{source.Swing.Denominator}" : string.Empty,
                source.Feel is not null || source.Sections.Any(section => section.Feel is not null) ? "feel" : string.Empty,
                source.Counted is not null || source.Sections.Any(section => section.Counted is not null) ? "counted" : string.Empty,
            }.Where(one => one.Length > 0),
        ];
    }

    private string BarLine()
    {
        var first = _plan.BarAt(0);
        var felt = FeltTempo.Of(first.Felt, first.Meter, first.Tempo, first.GroupPlace);
        var before = new FormPlan(_recasting.Source);
        return Number($"felt: {felt.In}; {Seconds(before):0.0} s before, {Seconds(_plan):0.0} s now, without lead-in and last bar");
    }

    // All passes of the form and the tag, with ramps and holds.
    private static double Seconds(FormPlan plan)
    {
        var times = plan.Chart.Times;
        var inPasses = plan.BarsInPass * times;
        return (Enumerable.Range(0, plan.BarsInPass).Sum(bar => Seconds(plan.BarAt(bar))) * times)
            + Enumerable.Range(inPasses, plan.Bars - inPasses).Sum(bar => Seconds(plan.BarAt(bar)));
    }

    private static double Seconds(BarPlace bar) => bar.Tempi.Select((tempo, i) =>
        ((i + 1 < bar.Tempi.Count ? bar.Tempi[i + 1].Onset : bar.Length) - tempo.Onset).Wholes.ToDouble() * Minute / tempo.Tempo.WholesPerMinute.ToDouble()).Sum();

    private IEnumerable<string> SungLines()
    {
        var moved = _measures.MovedMost.Take(MostNamed).ToList();
        if (moved.Count > 0)
        {
            yield return "moved most: " + string.Join(", ", moved.Select(one => $"{NoteName(one.Stretch, 0, one.Note)} {Number($"{Math.Abs(one.Distance):0.##}")} sixteenths {(one.Distance > 0 ? "later" : "earlier")}"));
        }

        if (_measures.StressedOffStrong.Count > 0)
        {
            yield return $"stressed syllables off group starts: {Named(_measures.StressedOffStrong.Select(SyllableName))}";
        }

        if (_measures.WeakOnStrong.Count > 0)
        {
            yield return $"weak syllables on strong places: {Named(_measures.WeakOnStrong.Select(SyllableName))}";
        }

        if (_measures.WeakLengthened.Count > 0)
        {
            yield return $"weak syllables longer than a stressed neighbour: {Named(_measures.WeakLengthened.Select(SyllableName))}";
        }

        if (_measures.ShortestSyllable is { } shortest)
        {
            yield return Number($"shortest syllable: {shortest * 1000:0} ms");
        }

        if (_measures.Breaths > 0)
        {
            yield return $"breaths: {_measures.BreathsKept} of {_measures.Breaths} kept";
        }
    }

    private IEnumerable<string> LateLines()
    {
        var phrased = _recasting.Phrased;
        var late = phrased.Late;
        if (phrased.StrongBeats == 0)
        {
            yield break;
        }

        if (late.Count == 0)
        {
            if (_phrasing != Phrasing.Plain)
            {
                yield return "sung: plainly; no word can be late";
            }

            yield break;
        }

        var own = late.Count(one => one.IsOwn);
        var glides = late.Count(one => one.IsGlided);
        yield return "sung: " + Listed([
            Words.Count(late.Count, "word") + " late" + (own == 0 ? string.Empty : own == late.Count ? " as in the song" : Number($" ({own} as in the song)")),
            Number($"{late.Max(one => one.Seconds) * 1000:0} ms at most"),
            Number($"{PlainShare * 100:0} % of {Words.Count(phrased.StrongBeats, "strong beat")} struck plainly"),
            glides == 0 ? "no glides" : Number($"{glides} approached with a glide"),
        ]);
        var moved = late.Count(one => one.IsMoved);
        yield return "written: " + (moved == 0 ? "all delays as marks" : Listed([Number($"{moved} later"), late.Count == moved ? string.Empty : Number($"{late.Count - moved} with marks")]));
        if (_recasting.Result.Parts.Where((part, i) => part.Settings != _recasting.Source.Parts[i].Settings).Select(part => part.Name).ToList() is { Count: > 0 } parts)
        {
            yield return $"laid-back is off now for {string.Join(", ", parts)}: the marks say what is late";
        }
    }

    // Of the strong beats, in all verses.
    private double PlainShare => 1 - ((double)_recasting.Phrased.LateStrongBeats / _recasting.Phrased.StrongBeats);

    private string SectionName(RecastStretch stretch) =>
        _recasting.Source.Sections[stretch.Section].Name + (stretch.Ending == 0 ? string.Empty : Number($", ending {stretch.Ending}"));

    private TuneVoice? Voice(RecastStretch stretch, int line)
    {
        var section = _recasting.Source.Sections[stretch.Section];
        return (stretch.Ending == 0 ? section.Tune : section.Endings[stretch.Ending - 1].Tune)?.Voice(line);
    }

    private string NoteName(int index, int line, int note)
    {
        var stretch = _recasting.Stretches[index];
        var (bar, _) = stretch.TargetBar(stretch.Lines[line][note].To);
        var voice = Voice(stretch, line)!;
        var sung = voice.Verses.Count > 0 && voice.Verses[0][note] is { IsHeldOver: false } syllable ? $"'{syllable.Text}'" : voice.Notes[note].Pitch.ToString();
        return sung + Number($" in {SectionName(stretch)} {(bar < 0 ? "pickup" : Number($"bar {bar + 1}"))}");
    }

    private string SyllableName(SungPlace place)
    {
        var stretch = _recasting.Stretches[place.Stretch];
        var (bar, _) = stretch.TargetBar(stretch.Lines[0][place.Note].To);
        return Number($"'{Voice(stretch, 0)!.Verses[place.Verse][place.Note]!.Text}' in {SectionName(stretch)} {(bar < 0 ? "pickup" : Number($"bar {bar + 1}"))}");
    }

    private string PhraseName(int phrase)
    {
        for (var i = 0; i < _recasting.Stretches.Count; i++)
        {
            for (var line = 0; line < _recasting.Stretches[i].Lines.Count; line++)
            {
                var note = _recasting.Stretches[i].Lines[line].ToList().FindIndex(one => one.Phrase == phrase);
                if (note >= 0)
                {
                    return $"the phrase from {NoteName(i, line, note)}";
                }
            }
        }

        throw new InvalidOperationException("Every phrase has notes.");
    }

    private void WriteSections(Utf8JsonWriter json)
    {
        json.WriteStartArray("sections");
        foreach (var stretch in _recasting.Stretches.Where(stretch => stretch.Ending == 0))
        {
            var seam = _recasting.Seams[stretch.Section];
            json.WriteStartObject();
            json.WriteString("name", _recasting.Source.Sections[stretch.Section].Name);
            json.WriteString("meter", stretch.Treatment.To.Signature.ToString());
            json.WriteString("grouping", stretch.Treatment.To.Grouping.ToString());
            json.WriteString("treatment", stretch.Treatment.Words);
            json.WriteNumber("bars", _recasting.Result.Sections[stretch.Section].Bars.Count);
            json.WriteString("tempo", Number($"{NoteValue.NameOf(stretch.Treatment.To.Unit)} = {Decimals.Of((seam.After / stretch.Treatment.To.Unit.Wholes).Within(1000))}"));
            json.WriteNumber("barSeconds", _measures.BarSeconds(stretch));
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    private void WriteSummary(Utf8JsonWriter json)
    {
        json.WriteStartObject("summary");
        json.WriteNumber("strongBeats", _measures.StrongBeats);
        json.WriteNumber("strongBeatsKept", _measures.StrongBeatsKept);
        json.WriteNumber("reversedFigures", _measures.Turned.Count(figure => figure.IsReversed));
        json.WriteNumber("evenedFigures", _measures.Turned.Count(figure => !figure.IsReversed));
        if (_finer is { } finer)
        {
            json.WriteStartObject("finerGrid");
            json.WriteString("grid", NoteValue.NameOf(finer.Grid));
            json.WriteNumber("reversedFigures", finer.Measures.Turned.Count(figure => figure.IsReversed));
            json.WriteNumber("evenedFigures", finer.Measures.Turned.Count(figure => !figure.IsReversed));
            json.WriteEndObject();
        }

        json.WriteNumber("unlikeFigures", _recasting.Places.UnlikeFigures);
        json.WriteNumber("weakOnStrong", _measures.WeakOnStrong.Count);
        json.WriteNumber("weakLengthened", _measures.WeakLengthened.Count);
        json.WriteNumber("stressedOffStrong", _measures.StressedOffStrong.Count);
        json.WriteNumber("cost", _treated.PlacesCost);
        json.WriteNumber("costPerNote", _treated.CostPerNote);
        json.WriteBoolean("proven", _recasting.Places.IsProven);
        json.WriteNumber("ties", _recasting.Places.Ties.Count);
        json.WriteNumber("swapDistance", _measures.SwapDistance);
        json.WriteNumber("chronotonicDistance", _measures.ChronotonicDistance);
        json.WriteNumber("syncopationBefore", _measures.SyncopationBefore);
        json.WriteNumber("syncopationAfter", _measures.SyncopationAfter);
        if (_measures.ShortestSyllable is { } shortest)
        {
            json.WriteNumber("shortestSyllableSeconds", shortest);
        }

        json.WriteNumber("lateWords", _recasting.Phrased.Late.Count);
        json.WriteNumber("longestDelaySeconds", _recasting.Phrased.Late.Select(one => one.Seconds).DefaultIfEmpty(0).Max());
        json.WriteNumber("plainStrongBeats", _recasting.Phrased.StrongBeats == 0 ? 1 : PlainShare);
        json.WriteNumber("glides", _recasting.Phrased.Late.Count(one => one.IsGlided));
        json.WriteNumber("breaths", _measures.Breaths);
        json.WriteNumber("breathsKept", _measures.BreathsKept);
        json.WriteNumber("barSeconds", _measures.BarSeconds(_recasting.Stretches[0]));
        json.WriteEndObject();
    }

    private void WriteSyllables(Utf8JsonWriter json)
    {
        json.WriteStartArray("syllables");
        foreach (var (stretch, _) in Sung)
        {
            var verses = Voice(stretch, 0)!.Verses;
            for (var verse = 0; verse < verses.Count; verse++)
            {
                for (var note = 0; note < stretch.Lines[0].Count; note++)
                {
                    if (verses[verse][note] is { IsHeldOver: false } syllable)
                    {
                        json.WriteStartObject();
                        json.WriteString("section", _recasting.Source.Sections[stretch.Section].Name);
                        if (stretch.Ending > 0)
                        {
                            json.WriteNumber("ending", stretch.Ending);
                        }

                        json.WriteNumber("verse", verse + 1);
                        json.WriteString("text", syllable.Text);
                        WritePlaces(json, stretch, stretch.Lines[0][note]);
                        json.WriteBoolean("stressed", stretch.Lines[0][note].Stresses[verse] == SyllableStress.Stressed);
                        json.WriteString("stress", stretch.Lines[0][note].Stresses[verse] switch { SyllableStress.Stressed => "stressed", SyllableStress.Unstressed => "unstressed", SyllableStress.Held => "held", _ => "unknown" });
                        var late = _recasting.Phrased.Delays.GetValueOrDefault((stretch.Section, stretch.Ending, verse, note));
                        json.WriteNumber("delayUnits", (late / UnitAt(stretch, stretch.Lines[0][note].To)).ToDouble());
                        json.WriteEndObject();
                    }
                }
            }
        }

        json.WriteEndArray();
    }

    // The unit of the bar of the result in which a place lies.
    private Span UnitAt(RecastStretch stretch, Span place)
    {
        var section = _recasting.Result.Sections[stretch.Section];
        var bars = stretch.Ending == 0 ? section.Bars : section.Endings[stretch.Ending - 1].Bars;
        return bars[Math.Max(0, stretch.TargetBar(place).Bar)].Meter.Unit;
    }

    private void WriteNotes(Utf8JsonWriter json)
    {
        json.WriteStartArray("notes");
        foreach (var (stretch, _) in Sung)
        {
            for (var line = 0; line < stretch.Lines.Count; line++)
            {
                foreach (var note in stretch.Lines[line])
                {
                    json.WriteStartObject();
                    json.WriteString("section", _recasting.Source.Sections[stretch.Section].Name);
                    if (stretch.Ending > 0)
                    {
                        json.WriteNumber("ending", stretch.Ending);
                    }

                    json.WriteNumber("line", line);
                    json.WriteNumber("note", note.Note);
                    WritePlaces(json, stretch, note);
                    json.WriteString("fromLength", note.FromLength.ToString());
                    json.WriteString("toLength", note.ToLength.ToString());
                    json.WriteBoolean("pushed", note.IsPushed);
                    json.WriteEndObject();
                }
            }
        }

        json.WriteEndArray();
    }

    private static void WritePlaces(Utf8JsonWriter json, RecastStretch stretch, RecastNote note)
    {
        var (fromBar, from) = stretch.SourceBar(note.From);
        var (toBar, to) = stretch.TargetBar(note.To);
        json.WriteNumber("fromBar", fromBar);
        json.WriteString("fromOnset", from.ToString());
        json.WriteNumber("toBar", toBar);
        json.WriteString("toOnset", to.ToString());
        json.WriteNumber("fromWeight", note.FromWeight);
        json.WriteNumber("toWeight", note.ToWeight);
        json.WriteBoolean("strong", note.IsStrong);
    }
}
