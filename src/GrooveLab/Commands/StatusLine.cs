using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Commands;

/// <summary>The place in the music on one line: rewritten on a terminal, one line for each bar when piped.</summary>
internal sealed class StatusLine(IBarSource band)
{
    // The space next to place and chord on a terminal of 80 columns.
    private const int TroubleColumns = 44;

    private int _bar = int.MinValue;
    private int _width;

    /// <summary>Writes the line.</summary>
    /// <param name="heard">The place that is heard now.</param>
    /// <param name="health">Current problems.</param>
    public void Show(Playhead heard, Health health)
    {
        if (heard.Bar is not { } bar)
        {
            return;
        }

        var inBar = new Span(Rational.Max(Rational.Zero, heard.InBar.Wholes));
        if (TerminalOutput.IsDrawable)
        {
            var text = Text(bar, inBar, health);
            Console.Out.Write('\r' + text.PadRight(_width));
            _width = text.Length;
        }
        else if (bar.Index != _bar)
        {
            Console.Out.WriteLine(Text(bar, Span.Zero, health));
        }

        _bar = bar.Index;
    }

    /// <summary>Ends the line.</summary>
    public void End()
    {
        if (TerminalOutput.IsDrawable)
        {
            Console.Out.WriteLine();
        }
    }

    /// <summary>"bar 3 of 20  verse  5/8  2  Dm  (1 bar late)".</summary>
    internal string Text(Bar bar, Span at, Health health)
    {
        var unit = (int)Math.Clamp((at / bar.Meter.Unit).Floor(), 0, 9999);
        var chord = bar.Chords.ChordAt(at).Text;
        var where = bar.Index < 0
            ? $"count-in {1 + (unit % bar.Meter.Units)}"
            : $"bar {bar.Index + 1}{(band.End is { } end ? $" of {end}" : string.Empty)}  {bar.Section}  {bar.Meter.Signature}  "
                + (bar.IsEnding ? "rings" : $"{1 + (unit % bar.Meter.Units)}");
        return $"{where}  {chord}{(health.IsGood ? string.Empty : $"  ({health.Line(TroubleColumns)})")}";
    }
}
