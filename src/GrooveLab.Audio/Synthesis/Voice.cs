using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics.X86;
using GrooveLab.Audio.SoundFonts;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// One region sounding: works out pitch, filter and gains from generators, modulators, envelopes and oscillators, piece of time by piece
/// of time, and lets a kernel make the frames.
/// </summary>
/// <remarks>
/// A piece ends at the next quantum of absolute frames, at the end of a stage of the volume envelope, or where an event interrupts it,
/// whichever comes first; gains are exact at its ends and straight between them. Voices are made once and used again.
/// </remarks>
internal sealed class Voice(VoiceContext context, VoiceLanes lanes, int lane)
{
    // The release of a bank that names none would fall 100 dB in a millisecond, which clicks. 16 ms is the least that does not.
    private const float LeastReleaseTimecents = -7200;

    // Some twenty seconds: far from what a counter holds.
    private const int MostFramesBehind = 1 << 20;

    // 2^20 points a frame; far beyond hearing, and short enough that no position can overflow.
    private const double GreatestIncrement = 1 << 20;

    private readonly float[] _amounts = new float[GeneratorRange.Count];
    private Region _region = null!;
    private ChannelState _channel = null!;
    private SampleCursor _cursor;

    private VolumeEnvelope _volumeEnvelope;
    private ModulationEnvelope _modulationEnvelope;
    private LowFrequencyOscillator _modulationLfo;
    private LowFrequencyOscillator _vibratoLfo;

    private int _pieceLength;
    private int _pieceLeft;
    private bool _isPieceSilent;
    private StaticGains _pieceTarget;

    private StaticGains _gains;
    private StaticGains _gainsTarget;
    private float _cutoffCents;
    private float _cutoffTarget;
    private int _glideLeft;

    private bool _areGainsAtRest;

    private int _fadeLength;
    private int _fadeLeft;

    private float _pitchCents;
    private float _lastPitch;
    private bool _hasMovingPitch;

    private double _inverseQuality;
    private bool _isFiltered;
    private bool _isFilterAtRest;
    private bool _hasMovingCutoff;
    private float _lastCutoff;
    private LowPassCoefficients _lastCoefficients;

    private bool _hasSounded;
    private int _releaseLeft;

    // Whether nothing of it changes until an event comes: pieces need no planning then.
    private bool _isSteady;

    // Whether the oscillators and the modulation envelope move anything; else they fall behind and catch up when asked.
    private bool _hasModulation;
    private int _framesBehind;

    private double _incrementOfRatio;

    /// <summary>Whether the voice makes sound, or will when its delay is over.</summary>
    public bool IsActive => (lanes.Active & (1u << lane)) != 0;

    /// <summary>Whether it is fading out in a few milliseconds, to be forgotten.</summary>
    public bool IsFading => _fadeLength > 0;

    /// <summary>Frames until a fade is over.</summary>
    public int FadeLeft => _fadeLeft;

    /// <summary>Whether its key has gone up.</summary>
    public bool IsKeyUp { get; private set; }

    /// <summary>Whether it is in its release.</summary>
    public bool IsReleased { get; private set; }

    public int ChannelIndex { get; private set; }

    public int Key { get; private set; }

    public int Velocity { get; private set; }

    public int ExclusiveClass => _region.ExclusiveClass;

    /// <summary>Which note-on started it, counted up.</summary>
    public long NoteId { get; private set; }

    /// <summary>How loud it is now or, in its attack, is about to be; what stealing goes by.</summary>
    public float Loudness => _volumeEnvelope.Stage <= EnvelopeStage.Hold
        ? Math.Max(_gains.Left, _gains.Right)
        : Math.Max(lanes[LaneField.Left, lane], lanes[LaneField.Right, lane]);

    /// <summary>Starts the voice on the next frame.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public unsafe void Start(Region region, ChannelState channel, int channelIndex, int key, int velocity, long noteId)
    {
        _region = region;
        _channel = channel;
        ChannelIndex = channelIndex;
        Key = key;
        Velocity = velocity;
        NoteId = noteId;
        lanes.Active |= 1u << lane;
        IsKeyUp = false;
        IsReleased = false;
        _pieceLength = 0;
        _pieceLeft = 0;
        _fadeLength = 0;
        _fadeLeft = 0;
        _lastPitch = float.NaN;
        _lastCutoff = float.NaN;
        _hasSounded = false;
        _releaseLeft = 0;
        _areGainsAtRest = false;
        _isSteady = false;
        _framesBehind = 0;
        _incrementOfRatio = (double)region.SampleRate / context.SampleRate * (1L << 32);
        lanes.Clear(lane);

        Modulate();
        _gains = _gainsTarget;
        _cutoffCents = _cutoffTarget;
        _glideLeft = 0;
        _volumeEnvelope.Start(VolumeTimes(), Amount(GeneratorEnum.SustainVolumeEnvelope));
        _modulationEnvelope.Start(ModulationTimes(), ModulationSustain());
        _modulationLfo.Start(DelayFrames(GeneratorEnum.DelayModulationLFO), LfoSpeed(GeneratorEnum.FrequencyModulationLFO));
        _vibratoLfo.Start(DelayFrames(GeneratorEnum.DelayVibratoLFO), LfoSpeed(GeneratorEnum.FrequencyVibratoLFO));

        _cursor = new SampleCursor
        {
            Position = (ulong)region.Start << 32,
            Start = region.Start,
            End = region.End,
            LoopStart = region.LoopStart,
            LoopEnd = region.LoopEnd,
            IsLooping = region.LoopMode != LoopMode.None,
            IsSeamless = region.IsSeamless,
            Seam = region.SeamPoints,
        };
        _isFiltered = NeedsFilter(0);
        if (_isFiltered)
            EnterFilter();
        SetGains(_gains.Times(_volumeEnvelope.Amplitude(0) * Tremolo(0)));
    }

    /// <summary>The key goes up: releases the voice unless the pedal holds it.</summary>
    public void KeyUp()
    {
        IsKeyUp = true;
        if (!_channel.IsSustained)
            Release();
    }

    /// <summary>Goes to the release stages on the next frame, pedal or not.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void Release()
    {
        IsKeyUp = true;
        if (IsReleased || _releaseLeft > 0)
            return;
        // A key that goes up on the frame on which it went down was meant to be heard all the same.
        if (!_hasSounded && _pieceLeft == _pieceLength)
        {
            _releaseLeft = _volumeEnvelope.FramesToFull(context.LeastNoteFrames);
            return;
        }
        Interrupt();
        if (!IsActive)
            return;
        IsReleased = true;
        _volumeEnvelope.Release();
        _modulationEnvelope.Release();
        if (_region.LoopMode == LoopMode.UntilRelease)
        {
            _cursor.IsLooping = false;
            _cursor.HasLooped = false;
        }
        EndIfSilent();
    }

    /// <summary>Fades out from the next frame; a fade that is already shorter goes on.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void FadeOut(int frames)
    {
        if (IsFading && _fadeLeft <= frames)
            return;
        Interrupt();
        if (!IsActive)
            return;
        // A longer fade under way goes on from the level it has reached.
        var level = Fade(0);
        _fadeLength = Math.Max(1, (int)(frames / Math.Max(level, 0.01f)));
        _fadeLeft = frames;
    }

    /// <summary>Stops at once.</summary>
    public void Cut() => End();

    /// <summary>Follows a controller that changed, from the next frame.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void ControllersChanged()
    {
        Interrupt();
        if (!IsActive)
            return;
        Modulate();
        _volumeEnvelope.Configure(VolumeTimes(), Amount(GeneratorEnum.SustainVolumeEnvelope));
        _modulationEnvelope.Configure(ModulationTimes(), ModulationSustain());
        _modulationLfo.SetSpeed(LfoSpeed(GeneratorEnum.FrequencyModulationLFO));
        _vibratoLfo.SetSpeed(LfoSpeed(GeneratorEnum.FrequencyVibratoLFO));
        _glideLeft = context.GlideFrames;
    }

    /// <summary>Whether any of its modulators listens to a source.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public bool ListensTo(bool isMidiController, int index)
    {
        foreach (ref readonly var m in _region.Modulators.AsSpan())
        {
            if (Is(m.Source) || Is(m.AmountSource))
                return true;
        }
        return false;

        bool Is(ModulatorSource source) => source.IsMidiController == isMidiController && source.Index == index;
    }

    /// <summary>Adds the next frames to the mix, all within one quantum, by the scalar kernel.</summary>
    /// <param name="framesToBoundary">Frames from the first of these to the end of the quantum.</param>
    /// <param name="left">Mix, left; its length is the number of frames.</param>
    /// <param name="right">Mix, right.</param>
    /// <param name="reverb">Send to the reverb, or empty.</param>
    /// <param name="chorus">Send to the chorus, or empty.</param>
    public void Render(int framesToBoundary, Span<float> left, Span<float> right, Span<float> reverb, Span<float> chorus)
    {
        var done = 0;
        while (done < left.Length && IsActive)
        {
            var count = Math.Min(FramesPlanned(framesToBoundary - done), left.Length - done);
            if (!_isPieceSilent)
            {
                ScalarVoiceKernel.Render(
                    ref _cursor, lanes, lane, _region.Pool, context.Weights, left.Slice(done, count), right.Slice(done, count),
                    Part(reverb, done, count), Part(chorus, done, count));
            }
            Pass(count);
            done += count;
        }

        static Span<float> Part(Span<float> send, int start, int count) => send.IsEmpty ? send : send.Slice(start, count);
    }

    /// <summary>How many frames the piece has left that is under way, or that is planned now.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public int FramesPlanned(int framesToBoundary)
    {
        if (_pieceLeft == 0)
        {
            if (_isSteady)
            {
                _pieceLength = framesToBoundary;
                _pieceLeft = framesToBoundary;
            }
            else
            {
                PlanPiece(framesToBoundary);
            }
            Prefetch();
        }
        return _pieceLeft;
    }

    /// <summary>
    /// Asks for the points of the piece ahead of their reading: so many voices read so little each that the processor sees no pattern, and
    /// would wait for every one of them.
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private unsafe void Prefetch()
    {
        const int Line = 64;
        const int Most = 6;
        unchecked
        {
            if (!Sse.IsSupported || _region.Pool.IsDeep)
                return;
            var at = (byte*)(_region.Pool.High + (nint)(_cursor.Position >> 32));
            var length = (int)Math.Min(((ulong)_pieceLength * _cursor.Increment) >> 31, Most * Line);
            for (var offset = 0; offset <= length; offset += Line)
                Sse.Prefetch0(at + offset);
        }
    }

    /// <summary>Reads the sample for the next frames of the piece.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public unsafe void Read(float* samples, int frames)
    {
        if (_isPieceSilent)
            new Span<float>(samples, frames).Clear();
        else
            SampleReader.Read(ref _cursor, _region.Pool, context.Weights, samples, frames);
    }

    /// <summary>Takes so many frames of the piece as rendered.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void Pass(int frames)
    {
        _pieceLeft -= frames;
        if (_pieceLeft > 0)
            return;
        if (!_isSteady)
        {
            if (!_isPieceSilent)
                SetGains(_pieceTarget);
            if (_isFiltered && !_isFilterAtRest)
                SettleFilter();
        }
        Commit(_pieceLength);
    }

    /// <summary>The amount with its modulators, in range.</summary>
    private float Amount(GeneratorEnum generator) => _amounts[(int)generator];

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void Modulate()
    {
        var key = _region.KeyOverride >= 0 ? _region.KeyOverride : Key;
        var velocity = _region.VelocityOverride >= 0 ? _region.VelocityOverride : Velocity;
        _region.Generators.CopyTo(_amounts, 0);
        _amounts[(int)GeneratorEnum.InitialAttenuation] *= context.InitialAttenuationScale;
        foreach (ref readonly var m in _region.Modulators.AsSpan())
        {
            var value = m.Amount * m.Source.Map(_channel.Value(m.Source, key, velocity))
                * m.AmountSource.Map(_channel.Value(m.AmountSource, key, velocity));
            _amounts[(int)m.Destination] += m.IsAbsolute ? MathF.Abs(value) : value;
        }
        // A bank out of range must not fall below the least release, but a release longer than that is its own affair.
        ref var release = ref _amounts[(int)GeneratorEnum.ReleaseVolumeEnvelope];
        release = Math.Max(release, LeastReleaseTimecents);

        // Coarse and fine tune are not clamped: the pitch wheel's cents come through them and reach further.
        var (coarse, fine) = (_amounts[(int)GeneratorEnum.CoarseTune], _amounts[(int)GeneratorEnum.FineTune]);
        GeneratorRange.ClampAll(_amounts);
        _pitchCents = ((key - _region.RootKey) * Amount(GeneratorEnum.ScaleTuning)) + _region.PitchCorrection + _channel.TuningCents
            + (coarse * 100) + fine;

        var resonance = Amount(GeneratorEnum.InitialFilterQ);
        var level = context.Gain * Units.Amplitude(Amount(GeneratorEnum.InitialAttenuation)) * LowPassCoefficients.Gain(resonance);
        var angle = (Amount(GeneratorEnum.Pan) + 500) / 1000 * (MathF.PI / 2);
        _gainsTarget = new StaticGains(
            level * MathF.Cos(angle),
            level * MathF.Sin(angle),
            level * Amount(GeneratorEnum.ReverbEffectsSend) / 1000,
            level * Amount(GeneratorEnum.ChorusEffectsSend) / 1000);
        _cutoffTarget = Amount(GeneratorEnum.InitialFilterCutoffFrequency);
        _inverseQuality = 1 / LowPassCoefficients.Quality(resonance);
        _lastCutoff = float.NaN;
        _hasMovingPitch = Amount(GeneratorEnum.ModulationLFOToPitch) != 0 || Amount(GeneratorEnum.VibratoLFOToPitch) != 0
            || Amount(GeneratorEnum.ModulationEnvelopeToPitch) != 0;
        _hasMovingCutoff = Amount(GeneratorEnum.ModulationLFOToFilterCutoffFrequency) != 0
            || Amount(GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency) != 0;
        _hasModulation = _hasMovingPitch || _hasMovingCutoff || Amount(GeneratorEnum.ModulationLFOToVolume) != 0;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void PlanPiece(int framesToBoundary)
    {
        var length = Math.Min(framesToBoundary, _volumeEnvelope.FramesLeft);
        if (_glideLeft > 0)
            length = Math.Min(length, _glideLeft);
        if (IsFading)
            length = Math.Min(length, _fadeLeft);
        if (_releaseLeft > 0)
            length = Math.Min(length, _releaseLeft);
        _pieceLength = length;
        _pieceLeft = length;
        // The sample starts with the attack, not with the key.
        _isPieceSilent = _volumeEnvelope.Stage == EnvelopeStage.Delay;
        if (_isPieceSilent)
            return;

        var part = length == Quantum.Frames ? 1f / Quantum.Frames : 1f / length;
        PlanPitch();
        PlanFilter(length, part);
        PlanGains(length, part);
        _isSteady = _areGainsAtRest && !_hasModulation && (!_isFiltered || _isFilterAtRest) && _glideLeft == 0 && _releaseLeft == 0;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void PlanPitch()
    {
        var cents = _pitchCents;
        if (_hasMovingPitch)
        {
            cents += (_modulationLfo.Value(0) * Amount(GeneratorEnum.ModulationLFOToPitch))
                + (_vibratoLfo.Value(0) * Amount(GeneratorEnum.VibratoLFOToPitch))
                + (_modulationEnvelope.Value(0) * Amount(GeneratorEnum.ModulationEnvelopeToPitch));
        }
        if (cents == _lastPitch)
            return;
        _lastPitch = cents;
        var increment = Math.Min(Units.Ratio(cents) * _incrementOfRatio, GreatestIncrement * (1L << 32));
        _cursor.Increment = (ulong)(long)Math.Round(increment);
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void PlanFilter(int length, float part)
    {
        if (!_isFiltered)
        {
            if (!NeedsFilter(length))
                return;
            // From here on it stays: leaving the filter would be a step, and it is nearly always there from the start.
            _isFiltered = true;
            EnterFilter();
        }
        if (_isFilterAtRest && Cutoff(length) == _lastCutoff)
            return;
        var target = Coefficients(length);
        _isFilterAtRest = target.A1 == lanes[LaneField.A1, lane] && target.A2 == lanes[LaneField.A2, lane]
            && target.A3 == lanes[LaneField.A3, lane];
        lanes[LaneField.A1Step, lane] = (target.A1 - lanes[LaneField.A1, lane]) * part;
        lanes[LaneField.A2Step, lane] = (target.A2 - lanes[LaneField.A2, lane]) * part;
        lanes[LaneField.A3Step, lane] = (target.A3 - lanes[LaneField.A3, lane]) * part;
    }

    private void EnterFilter()
    {
        _isFilterAtRest = false;
        lanes[LaneField.FilterMask, lane] = BitConverter.Int32BitsToSingle(-1);
        (lanes[LaneField.A1, lane], lanes[LaneField.A2, lane], lanes[LaneField.A3, lane]) = Coefficients(0);
    }

    /// <summary>Puts the filter where its ramp was meant to end, so that rounding cannot keep it moving.</summary>
    private void SettleFilter()
    {
        (lanes[LaneField.A1, lane], lanes[LaneField.A2, lane], lanes[LaneField.A3, lane]) = _lastCoefficients;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void PlanGains(int length, float part)
    {
        var isHeld = _volumeEnvelope.Stage == EnvelopeStage.Sustain && _glideLeft == 0 && !IsFading
            && Amount(GeneratorEnum.ModulationLFOToVolume) == 0;
        if (isHeld && _areGainsAtRest)
            return;
        _pieceTarget = GainsAfter(length).Times(_volumeEnvelope.Amplitude(length) * Tremolo(length) * Fade(length));
        lanes[LaneField.LeftStep, lane] = (_pieceTarget.Left - lanes[LaneField.Left, lane]) * part;
        lanes[LaneField.RightStep, lane] = (_pieceTarget.Right - lanes[LaneField.Right, lane]) * part;
        lanes[LaneField.ReverbStep, lane] = (_pieceTarget.Reverb - lanes[LaneField.Reverb, lane]) * part;
        lanes[LaneField.ChorusStep, lane] = (_pieceTarget.Chorus - lanes[LaneField.Chorus, lane]) * part;
        _areGainsAtRest = isHeld && lanes[LaneField.LeftStep, lane] == 0 && lanes[LaneField.RightStep, lane] == 0
            && lanes[LaneField.ReverbStep, lane] == 0 && lanes[LaneField.ChorusStep, lane] == 0;
    }

    /// <summary>Ends the piece where it is, so that the next one starts on the coming frame with something else in it.</summary>
    private void Interrupt()
    {
        if (_pieceLeft > 0)
            Commit(_pieceLength - _pieceLeft);
        _isSteady = false;
        CatchUp();
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void CatchUp()
    {
        if (_framesBehind == 0)
            return;
        _modulationEnvelope.Advance(_framesBehind);
        _modulationLfo.Advance(_framesBehind);
        _vibratoLfo.Advance(_framesBehind);
        _framesBehind = 0;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void Commit(int frames)
    {
        _pieceLength = 0;
        _pieceLeft = 0;
        if (frames == 0)
            return;
        _hasSounded = true;
        _framesBehind += frames;
        if (_hasModulation || _framesBehind > MostFramesBehind)
            CatchUp();
        if (_isFiltered)
            FlushDenormals();
        if (_isSteady)
        {
            if (_cursor.HasEnded)
                SampleEnded();
            return;
        }
        _volumeEnvelope.Advance(frames);
        if (_glideLeft > 0)
        {
            _gains = GainsAfter(frames);
            _cutoffCents = CutoffAfter(frames);
            _glideLeft -= frames;
        }
        if (IsFading)
        {
            _fadeLeft -= frames;
            if (_fadeLeft <= 0)
                End();
        }
        else if (_cursor.HasEnded)
            SampleEnded();
        EndIfSilent();
        if (_releaseLeft > 0)
        {
            _releaseLeft -= frames;
            if (_releaseLeft == 0 && IsActive)
                Release();
        }
    }

    private void SampleEnded()
    {
        _isSteady = false;
        // The filter may still ring.
        if (_isFiltered)
        {
            _fadeLength = context.FadeFrames;
            _fadeLeft = context.FadeFrames;
        }
        else
        {
            End();
        }
    }

    private void End()
    {
        lanes.Active &= ~(1u << lane);
        lanes.Clear(lane);
    }

    private void EndIfSilent()
    {
        if (_volumeEnvelope.Stage == EnvelopeStage.Finished || IsInaudible())
            End();
    }

    /// <summary>Whether it is on its way to silence and so far down, the bank's and the channel's attenuation counted, that nobody hears it.</summary>
    private bool IsInaudible()
    {
        // -110 dB of full scale, and the envelope itself must have done most of it: a controller may still bring up the rest.
        const float LeastGain = 3.16e-6f;
        const float LeastEnvelope = 1e-3f;
        return _volumeEnvelope.IsFallingSilent && Math.Max(lanes[LaneField.Left, lane], lanes[LaneField.Right, lane]) < LeastGain
            && _volumeEnvelope.Amplitude(0) < LeastEnvelope;
    }

    private StaticGains GainsAfter(int frames) =>
        frames >= _glideLeft ? _gainsTarget : _gains.Towards(_gainsTarget, (float)frames / _glideLeft);

    private float CutoffAfter(int frames) =>
        frames >= _glideLeft ? _cutoffTarget : _cutoffCents + ((_cutoffTarget - _cutoffCents) * frames / _glideLeft);

    private float Fade(int ahead) => _fadeLength == 0 ? 1 : (float)(_fadeLeft - ahead) / _fadeLength;

    private float Tremolo(int ahead)
    {
        var depth = Amount(GeneratorEnum.ModulationLFOToVolume);
        return depth == 0 ? 1 : Units.Amplitude(-depth * _modulationLfo.Value(ahead));
    }

    private float Cutoff(int ahead)
    {
        var cents = CutoffAfter(ahead);
        if (!_hasMovingCutoff)
            return cents;
        return cents + (_modulationLfo.Value(ahead) * Amount(GeneratorEnum.ModulationLFOToFilterCutoffFrequency))
            + (_modulationEnvelope.Value(ahead) * Amount(GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency));
    }

    private bool NeedsFilter(int ahead) =>
        Cutoff(ahead) < GeneratorRange.Of(GeneratorEnum.InitialFilterCutoffFrequency).Maximum || Amount(GeneratorEnum.InitialFilterQ) > 0;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private LowPassCoefficients Coefficients(int ahead)
    {
        var cutoff = Cutoff(ahead);
        if (cutoff != _lastCutoff)
        {
            _lastCutoff = cutoff;
            _lastCoefficients = LowPassCoefficients.For(cutoff, _inverseQuality, context.SampleRate);
        }
        return _lastCoefficients;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private EnvelopeTimes VolumeTimes() =>
        EnvelopeTimes.From(_amounts, GeneratorEnum.DelayVolumeEnvelope, ModulationKey(), context.SampleRate);

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private EnvelopeTimes ModulationTimes() =>
        EnvelopeTimes.From(_amounts, GeneratorEnum.DelayModulationEnvelope, ModulationKey(), context.SampleRate);

    private int ModulationKey() => _region.KeyOverride >= 0 ? _region.KeyOverride : Key;

    // The generator counts downwards from full level, in tenths of a percent.
    private float ModulationSustain() => 1 - (Amount(GeneratorEnum.SustainModulationEnvelope) / 1000);

    private double LfoSpeed(GeneratorEnum frequency) => Units.Hertz(Amount(frequency)) / context.SampleRate;

    private int DelayFrames(GeneratorEnum delay)
    {
        var timecents = Amount(delay);
        return timecents <= GeneratorRange.Of(delay).Minimum ? 0 : (int)Math.Round(Units.Seconds(timecents) * context.SampleRate);
    }

    private void FlushDenormals()
    {
        const float Inaudible = 1e-15f;
        if (MathF.Abs(lanes[LaneField.Filter1, lane]) < Inaudible && MathF.Abs(lanes[LaneField.Filter2, lane]) < Inaudible)
        {
            lanes[LaneField.Filter1, lane] = 0;
            lanes[LaneField.Filter2, lane] = 0;
        }
    }

    private void SetGains(in StaticGains gains)
    {
        lanes[LaneField.Left, lane] = gains.Left;
        lanes[LaneField.Right, lane] = gains.Right;
        lanes[LaneField.Reverb, lane] = gains.Reverb;
        lanes[LaneField.Chorus, lane] = gains.Chorus;
    }
}
