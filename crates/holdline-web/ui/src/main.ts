import { mount } from 'svelte';
import App from './App.svelte';
import './look/fonts.css';
import './look/sheet.css';
import './look/layout.css';
import './look/drawing.css';

const target = document.getElementById('sheet');
if (target) mount(App, { target });
