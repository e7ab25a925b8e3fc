using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Files;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
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
    private readonly FormPlan _plan;

    /// <param name="treated">The song in its new meter.</param>
    /// <param name="remarks">Remarks of the import, if the song was a score.</param>
    public RecastReport(TreatedSong treated, IReadOnlyList<string> remarks)
    {
        _treated = treated;
        _recasting = treated.Recasting;
        _measures = new RecastMeasures(_recasting);
        _remarks = remarks;
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
        foreach (var line in SungLines())
        {
            yield return line;
        }

        yield return Number($"cost: {_treated.PlacesCost:0.000} in all, {_treated.CostPerNote:0.000} a note") + (_recasting.Places.IsProven ? string.Empty : "; a better one may exist, the search was ended");
        foreach (var (phrase, _) in _recasting.Places.Ties.Take(MostNamed))
        {
            yield return $"tie: {PhraseName(phrase)} has other places of the same cost; the later ones were taken";
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
            var seconds = _measures.BarSeconds(group.First());
            yield return name + Number($"{treatment.Words}, {NoteValue.NameOf(treatment.To.Unit)} = {Decimals.Of((after / treatment.To.Unit.Wholes).Within(100))}, a bar lasts {seconds:0.00} s");
        }
    }

    private string BarLine()
    {
        var first = _plan.BarAt(0);
        var felt = FeltTempo.Of(first.Felt, first.Meter, first.Tempo, first.GroupPlace);
        var before = new FormPlan(_recasting.Source);
        return Number($"felt: {felt.In}; {Seconds(before):0.0} s before, {Seconds(_plan):0.0} s now, without lead-in and last bar");
    }

    private static double Seconds(FormPlan plan)
    {
        var sum = 0.0;
        for (var bar = 0; bar < plan.BarsInPass; bar++)
        {
            var place = plan.BarAt(bar);
            sum += place.Meter.Length.Wholes.ToDouble() * Minute / place.Tempo.WholesPerMinute.ToDouble();
        }

        return sum;
    }

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
        if (_measures.ShortestSyllable is { } shortest)
        {
            json.WriteNumber("shortestSyllableSeconds", shortest);
        }

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
                        json.WriteNumber("delayUnits", 0);
                        json.WriteEndObject();
                    }
                }
            }
        }

        json.WriteEndArray();
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
